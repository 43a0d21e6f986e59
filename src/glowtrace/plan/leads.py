"""Which terminal goes to which: the lead table of a bench at its settings.

Polarities follow from the conventions of the bench: the anode is positive against the cathode;
V(upper) - V(lower) > 0 pushes the beam up; a current I > 0 enters a coil at its terminal A.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple

from glowtrace.bench.layout import bench_windings
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.units import format_quantity

Earthed = Literal["anode", "cathode"]
"""The point that is joined to the protective earth; the picture does not depend on it."""
Circuit = Literal["earth", "accelerating", "heater", "plates", "coils"]

ANODE, CATHODE, EARTH = "anode", "cathode", "protective earth"
HIGH_VOLTAGE = "high-voltage lead, shrouded plugs"
FLOATING = "lead for {current}, insulated for the accelerating voltage"
LOW_VOLTAGE = "lead for {current}"
EARTH_LEAD = "earth lead"
COLOUR = "by local practice"


@dataclass(frozen=True)
class Lead:
    """One lead.

    Attributes
    ----------
    number
        From 1, in the order of connecting.
    from_terminal, to_terminal
        What it joins.
    lead
        What kind of lead it takes.
    why
        What it is for.
    circuit
        Which circuit it belongs to.
    colour
        Never prescribed: rules differ.
    """

    number: int
    from_terminal: str
    to_terminal: str
    lead: str
    why: str
    circuit: Circuit
    colour: str = COLOUR


class Join(NamedTuple):
    """A lead without its number."""

    start: str
    end: str
    lead: str
    why: str


def lead_table(bench: Bench, settings: Settings, earthed: Earthed) -> tuple[Lead, ...]:
    """Give all leads of a bench in the order of connecting, the earth first."""
    circuits: tuple[tuple[Circuit, Iterator[Join]], ...] = (
        ("earth", _earth(earthed)),
        ("heater", _heater(bench, earthed)),
        ("coils", _coils(bench, settings)),
        ("plates", _plates(bench, settings)),
        ("accelerating", _accelerating(earthed)),
    )
    joins = [(circuit, join) for circuit, several in circuits for join in several]
    return tuple(Lead(n, *join, circuit) for n, (circuit, join) in enumerate(joins, start=1))


def find_lead(leads: tuple[Lead, ...], *terminals: str) -> Lead:
    """Give the lead that touches all these terminals."""
    return next(lead for lead in leads if set(terminals) <= {lead.from_terminal, lead.to_terminal})


def plate_feeds(leads: tuple[Lead, ...], settings: Settings) -> tuple[int, int]:
    """Give the numbers of the two leads that put the voltage on the plates."""
    own = ("plate supply +", "plate supply −")
    shared = ("accelerating supply −", "divider tap")
    starts = own if settings.plate_source == "own supply" else shared
    of_plates = [lead for lead in leads if lead.circuit == "plates"]
    feeds = [lead.number for lead in of_plates if lead.from_terminal in starts]
    # On the accelerating supply the first lead joins the other plate to the anode.
    first, second = feeds if len(feeds) == 2 else (of_plates[0].number, feeds[0])
    return first, second


def plates_are_fed(bench: Bench, settings: Settings) -> bool:
    """Whether a supply stands across the plates, rather than both being joined to the anode."""
    if bench.plates is None:
        return False
    if settings.plate_source == "own supply":
        return bench.supplies.plates is not None
    return settings.plate_voltage > 0.0


def needs_divider(settings: Settings) -> bool:
    """Whether the plates take less than the accelerating supply that feeds them gives."""
    return (
        settings.plate_source == "accelerating supply"
        and 0.0 < settings.plate_voltage < settings.accelerating_voltage
    )


def coil_chain(bench: Bench, settings: Settings) -> tuple[str, ...]:
    """Give the coils' terminals in the order in which the current passes, in and out of each.

    Terminal A of a coil is the one where a current must enter to give a field along the bench's
    axis for I > 0: +z for a pair, +x for a long coil.
    """
    if bench.coils is None:
        return ()
    if bench.coils.kind == "long coil":
        chain: tuple[str, ...] = ("long coil A", "long coil B")
    else:
        back, front = coil_names(bench)
        aiding = bench.coils.sense == "aiding"
        middle = (f"{back} A", f"{back} B") if aiding else (f"{back} B", f"{back} A")
        chain = (f"{front} A", f"{front} B", *middle)
    return chain[::-1] if settings.coil_reversed else chain


def coil_names(bench: Bench) -> tuple[str, str]:
    """Name the coils of a pair: that at the tail of their axis, and that at its tip."""
    axis = bench_windings(bench)[0].axis
    if axis[2] > 0.7:
        return "back coil", "front coil"
    if axis[1] > 0.7:
        return "lower coil", "upper coil"
    if axis[1] < -0.7:
        return "upper coil", "lower coil"
    return "first coil", "second coil"


def _earth(earthed: Earthed) -> Iterator[Join]:
    why = {
        "anode": "anode and all that is joined to it stay near earth, where hands can come; "
        "the cathode and the heater's circuit stand at the full negative voltage",
        "cathode": "the cathode and the heater's circuit stay near earth; the anode and all that "
        "is joined to it stand at the full positive voltage",
    }
    yield Join(earthed, EARTH, EARTH_LEAD, why[earthed])


def _heater(bench: Bench, earthed: Earthed) -> Iterator[Join]:
    kind = FLOATING.format(current=format_quantity(bench.gun.heater_current, "A"))
    floats = "the supply floats at the cathode's potential: no pole of it to earth"
    if earthed == "cathode":
        floats = "the supply stands at the cathode's potential, which is earthed here"
    for pole in (1, 2):
        yield Join(f"heater supply {pole}", f"heater {pole}", kind, f"heats the cathode; {floats}")
    yield Join(
        "heater 2", CATHODE, HIGH_VOLTAGE,
        "keeps the heater at the cathode's potential; left out where the tube joins them inside",
    )  # fmt: skip


def _accelerating(earthed: Earthed) -> Iterator[Join]:
    plus, minus = "accelerating supply +", "accelerating supply −"
    output = f"the supply's output must float, so that only the {earthed} is earthed"
    yield Join(plus, ANODE, HIGH_VOLTAGE, f"electrons are drawn to the anode; {output}")
    yield Join(minus, CATHODE, HIGH_VOLTAGE, "the cathode is the negative end")
    why = "reads the accelerating voltage; not needed where the supply's own meter is used"
    yield Join("voltmeter +", plus, HIGH_VOLTAGE, why)
    yield Join("voltmeter −", minus, HIGH_VOLTAGE, why)


def _plates(bench: Bench, settings: Settings) -> Iterator[Join]:
    if bench.plates is None:
        return
    upper, lower = bench.plates.terminal_upper, bench.plates.terminal_lower
    if not plates_are_fed(bench, settings):
        why = "no field between the plates: both at the anode's potential"
        yield Join(upper, ANODE, HIGH_VOLTAGE, why)
        yield Join(lower, ANODE, HIGH_VOLTAGE, why)
    elif settings.plate_source == "own supply":
        yield from _plates_on_own_supply(settings, upper, lower)
    else:
        yield from _plates_on_accelerating_supply(settings, upper, lower)


def _plates_on_own_supply(settings: Settings, upper: str, lower: str) -> Iterator[Join]:
    plus, minus = "plate supply +", "plate supply −"
    positive, negative = (lower, upper) if settings.plate_reversed else (upper, lower)
    yield Join(plus, positive, HIGH_VOLTAGE, "electrons are drawn to the positive plate")
    yield Join(minus, negative, HIGH_VOLTAGE, "electrons are pushed from the negative plate")
    if settings.plate_tie == "symmetric":
        yield Join(
            "plate supply middle", ANODE, HIGH_VOLTAGE,
            "the plates stand evenly above and below the anode, so that the beam keeps its speed; "
            "a supply without a middle terminal takes two equal resistors, see the notes",
        )  # fmt: skip
    else:
        tied = lower if settings.plate_tie == "lower at anode" else upper
        yield Join(
            tied, ANODE, HIGH_VOLTAGE,
            "fixes the plates' potential; the beam changes its speed on entry by about half the "
            "plate voltage",
        )  # fmt: skip
    why = "reads the plate voltage; not needed where the supply's own meter is used"
    yield Join("plate voltmeter +", plus, HIGH_VOLTAGE, why)
    yield Join("plate voltmeter −", minus, HIGH_VOLTAGE, why)


def _plates_on_accelerating_supply(settings: Settings, upper: str, lower: str) -> Iterator[Join]:
    tied, other = (upper, lower) if settings.plate_tie == "upper at anode" else (lower, upper)
    minus = "accelerating supply −"
    yield Join(tied, ANODE, HIGH_VOLTAGE, "this plate stands at the anode's potential")
    if needs_divider(settings):
        part = format_quantity(settings.plate_voltage / settings.accelerating_voltage, "1")
        why = f"a divider made for the voltage; its tap gives {part} of the accelerating voltage"
        yield Join("divider +", ANODE, HIGH_VOLTAGE, why)
        yield Join("divider −", minus, HIGH_VOLTAGE, why)
        minus = "divider tap"
    yield Join(minus, other, HIGH_VOLTAGE, "this plate is negative and pushes the electrons away")
    why = "reads the plate voltage"
    yield Join("plate voltmeter +", tied, HIGH_VOLTAGE, why)
    yield Join("plate voltmeter −", other, HIGH_VOLTAGE, why)


def _coils(bench: Bench, settings: Settings) -> Iterator[Join]:
    if bench.coils is None or bench.supplies.coils is None:
        return
    kind = LOW_VOLTAGE.format(current=format_quantity(bench.coils.max_current, "A"))
    chain = coil_chain(bench, settings)
    yield Join("coil supply +", "ammeter +", kind, "feeds the coils through the ammeter")
    yield Join("ammeter −", chain[0], kind, f"the current enters at {chain[0]}")
    if len(chain) == 4:
        sense = bench.coils.sense if bench.coils.kind == "pair" else "aiding"
        why = f"coils in series, {sense}: the same current in both"
        yield Join(chain[1], chain[2], kind, why)
    yield Join(chain[-1], "coil supply −", kind, "the way back to the supply")
