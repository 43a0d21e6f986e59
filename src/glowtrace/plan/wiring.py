"""The wiring of a bench at its settings: lead table, reversals, and checks while switching on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from glowtrace.bench.arguments import require_kind
from glowtrace.bench.layout import bench_windings
from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ratings import require_within_ratings
from glowtrace.bench.settings import Settings
from glowtrace.plan.leads import (
    Earthed,
    Lead,
    coil_chain,
    find_lead,
    lead_table,
    plate_feeds,
    plates_are_fed,
)
from glowtrace.plan.middle_resistors import MiddleResistors, middle_notes, middle_resistors
from glowtrace.plan.switch_on import OFF_FIRST, SwitchOnCheck, switch_on_checks

__all__ = ["Earthed", "Lead", "Reversal", "SwitchOnCheck", "Wiring", "wire"]


@dataclass(frozen=True)
class Reversal:
    """How to do by hand what a reversing switch does.

    Attributes
    ----------
    switch
        Name of the setting: "plate_reversed" or "coil_reversed".
    exchange
        Numbers of the two leads to exchange.
    text
        The same in words, with what comes first.
    """

    switch: str
    exchange: tuple[int, int]
    text: str


@dataclass(frozen=True)
class Wiring:
    """How a bench is connected.

    Attributes
    ----------
    earthed
        The point that is joined to the protective earth. The picture does not depend on it.
    leads
        In the order of connecting.
    reversals
        The polarity changes that are possible, by the leads to exchange.
    checks
        While switching on, with computed predictions.
    notes
        What the table cannot say.
    middle
        The resistors that a plate supply without a middle terminal takes; None where none are
        needed.
    """

    earthed: Earthed
    leads: tuple[Lead, ...]
    reversals: tuple[Reversal, ...]
    checks: tuple[SwitchOnCheck, ...]
    notes: tuple[str, ...]
    middle: MiddleResistors | None


def wire(
    bench: Bench,
    settings: Settings,
    *,
    earthed: Earthed = "anode",
    prepared: PreparedBench | None = None,
) -> Wiring:
    """Give the leads of a bench, and what the beam must do when they are right.

    Parameters
    ----------
    bench, settings
        What stands there, and what is set on it.
    earthed
        Which point is joined to the protective earth: "anode" (usual) or "cathode".
    prepared
        The same bench with its fields; left out, they are computed or loaded.

    Raises
    ------
    RatingError
        Settings that the bench does not stand, or that no wiring can give.
    """
    require_kind(bench, Bench)
    require_kind(settings, Settings)
    require_within_ratings(bench, settings)
    leads = lead_table(bench, settings, earthed)
    middle = middle_resistors(bench, settings)
    return Wiring(
        earthed,
        leads,
        tuple(_reversals(bench, settings, leads)),
        switch_on_checks(prepared or prepare(bench), settings, leads),
        tuple(_notes(bench, earthed, middle)),
        middle,
    )


def _reversals(bench: Bench, settings: Settings, leads: tuple[Lead, ...]) -> Iterator[Reversal]:
    if bench.coils and bench.supplies.coils:
        chain = coil_chain(bench, settings)
        first = find_lead(leads, "ammeter −", chain[0])
        second = find_lead(leads, chain[-1], "coil supply −")
        ends = f"{chain[0]} and {chain[-1]}"
        yield _exchange("coil_reversed", first.number, second.number, ends, "the coil current")
    if bench.plates and plates_are_fed(bench, settings):
        one, other = plate_feeds(leads, settings)
        plates = bench.plates
        ends = f"{plates.terminal_upper} and {plates.terminal_lower}"
        shared = settings.plate_source == "accelerating supply"
        also = "; the tie to the anode changes with them" if shared else ""
        yield _exchange("plate_reversed", one, other, ends + also, "the plate voltage")


def _exchange(switch: str, first: int, second: int, ends: str, what: str) -> Reversal:
    text = (
        f"To reverse {what} without a reversing switch: {OFF_FIRST} exchange the leads "
        f"{first} and {second} at their ends on {ends}."
    )
    return Reversal(switch, (first, second), text)


def _notes(bench: Bench, earthed: Earthed, middle: MiddleResistors | None) -> Iterator[str]:
    yield "Accelerating voltage off and discharged before any lead is touched, every time."
    if earthed == "cathode":
        yield (
            "With the cathode earthed the anode, the plates and the screen stand at the full "
            "accelerating voltage: nothing near them may be touched."
        )
    else:
        yield (
            "With the anode earthed the cathode, the heater and its supply stand at the full "
            "accelerating voltage: their leads need insulation for it."
        )
    yield (
        f"Earthing the {'cathode' if earthed == 'anode' else 'anode'} instead leaves the picture "
        "as it is, since only differences of potential count; local rules say which is used."
    )
    if middle is not None:
        yield from middle_notes(middle)
    if bench.coils:
        axis = bench_windings(bench)[0].axis
        yield (
            "Terminal A of a coil: a current that enters there gives a field inside the coil "
            f"{_axis_words(axis)}. Unmarked coils: one coil at a time, at a small current and "
            "with the high voltage off, a compass needle in it points along the field."
        )
    yield "Colours of the leads follow local practice."


def _axis_words(axis: tuple[float, float, float]) -> str:
    """Say where an axis points, by its largest component."""
    largest = max(range(3), key=lambda i: abs(axis[i]))
    words = (
        ("from the gun to the screen", "from the screen to the gun"),
        ("upwards", "downwards"),
        ("towards the audience", "away from the audience"),
    )
    return words[largest][axis[largest] < 0]
