"""Which settings a bench stands: every knob stops at a rating, and the stop says which."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, NamedTuple

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.errors import Problem, RatingError
from glowtrace.units import exact_text, format_quantity

KNOBS: Final = {"accelerating_voltage": "V", "plate_voltage": "V", "coil_current": "A"}
"""The knobs and their SI units."""


def settings_record(settings: Settings) -> dict[str, Any]:
    """Give settings as plain data; the keys of knobs end in their unit: "plate_voltage_v"."""
    return {
        f"{name}_{KNOBS[name].lower()}" if name in KNOBS else name: value
        for name, value in settings.model_dump().items()
    }


def settings_of_record(record: Mapping[str, Any]) -> Settings:
    """Give the settings of which `settings_record` gave the plain data.

    Raises
    ------
    BenchError
        A name is no setting, or a value is not allowed.
    """
    names = {f"{name}_{unit.lower()}": name for name, unit in KNOBS.items()}
    return Settings(**{names.get(name, name): value for name, value in record.items()})


class Limit(NamedTuple):
    """A value that a knob must not pass (SI), and the rating behind it."""

    value: float
    why: str


class KnobRange(NamedTuple):
    """Lowest and highest value of a knob (SI), and what stops it at the top."""

    low: float
    high: float
    why: str


def knobs_of(bench: Bench) -> tuple[str, ...]:
    """Give the knobs that a bench has."""
    parts = {"plate_voltage": bench.plates, "coil_current": bench.coils}
    return tuple(knob for knob in KNOBS if knob not in parts or parts[knob] is not None)


def knob_ranges(bench: Bench) -> dict[str, KnobRange]:
    """Give how far each knob may be turned, and why no further.

    The plate knob is taken for plates on their own supply, or on the accelerating supply where
    they have none. A knob without its apparatus has the range 0 to 0.

    Parameters
    ----------
    bench
        The bench.

    Returns
    -------
    dict
        By name of the setting: "accelerating_voltage" (V), "plate_voltage" (V), "coil_current" (A).
    """
    ceilings = {
        "accelerating_voltage": list(_accelerating_ceilings(bench)),
        "plate_voltage": list(_plate_ceilings(bench, _usual_source(bench))),
        "coil_current": list(_coil_ceilings(bench)),
    }
    lows = {"accelerating_voltage": max(_accelerating_floors(bench)).value}
    # Two ratings of the same value: the first named is that of the apparatus itself.
    stops = {knob: min(limits, key=lambda limit: limit.value) for knob, limits in ceilings.items()}
    return {knob: KnobRange(lows.get(knob, 0.0), *stops[knob]) for knob in KNOBS}


def check_settings(bench: Bench, settings: Settings) -> tuple[Problem, ...]:
    """Find every setting that a rating of the bench forbids, or that its wiring cannot give.

    Parameters
    ----------
    bench, settings
        What stands there, and what is set on it.

    Returns
    -------
    tuple of Problem
        One for each rating that is passed; empty when the bench stands the settings.
    """
    return tuple(_problems(bench, settings))


def require_within_ratings(bench: Bench, settings: Settings) -> None:
    """Raise a RatingError that names every rating which the settings pass."""
    problems = check_settings(bench, settings)
    if problems:
        raise RatingError(f'settings on the bench "{bench.name}"', problems)


def _problems(bench: Bench, settings: Settings) -> Iterator[Problem]:
    values = {knob: float(getattr(settings, knob)) for knob in KNOBS}
    senseless = {knob: value for knob, value in values.items() if not 0 <= value < math.inf}
    for knob, value in senseless.items():
        yield _problem(knob, value, Limit(0.0, f"give 0 {KNOBS[knob]} or more"))
    if senseless:
        return
    accelerating = values["accelerating_voltage"]
    yield from _beyond("accelerating_voltage", accelerating, _accelerating_ceilings(bench))
    for floor in _accelerating_floors(bench):
        if accelerating < floor.value:
            yield _problem("accelerating_voltage", accelerating, floor)
    if settings.plate_voltage != 0:
        yield from _plate_problems(bench, settings)
    if settings.coil_current != 0:
        yield from _beyond("coil_current", settings.coil_current, _coil_ceilings(bench))


def _plate_problems(bench: Bench, settings: Settings) -> Iterator[Problem]:
    """Check a plate voltage that is not zero."""
    voltage, source = settings.plate_voltage, settings.plate_source
    yield from _beyond("plate_voltage", voltage, _plate_ceilings(bench, source))
    if bench.plates is None:
        return
    if source == "accelerating supply":
        shared = settings.accelerating_voltage
        why = f"the plates share the accelerating voltage, set to {exact_text(shared, 'V')}"
        yield from _beyond("plate_voltage", voltage, [Limit(shared, why)])
        yield from _shared_supply(settings)
    elif bench.supplies.plates and voltage < bench.supplies.plates.min_voltage:
        least = bench.supplies.plates.min_voltage
        why = f"the plate supply gives at least {exact_text(least, 'V')}"
        yield _problem("plate_voltage", voltage, Limit(least, why))


def _beyond(knob: str, value: float, limits: Iterable[Limit]) -> Iterator[Problem]:
    """Report every limit that a value passes."""
    for limit in limits:
        if value > limit.value:
            yield _problem(knob, value, limit)


def _problem(knob: str, value: float, limit: Limit) -> Problem:
    unit = KNOBS[knob]
    given = exact_text(value, unit) if math.isfinite(value) else str(value)
    return Problem(knob, given, limit.why)


def _accelerating_ceilings(bench: Bench) -> Iterator[Limit]:
    rated = bench.gun.max_accelerating_voltage
    yield Limit(rated, f"the gun is rated {exact_text(rated, 'V')}")
    most = bench.supplies.accelerating.max_voltage
    yield Limit(most, f"the accelerating supply gives at most {exact_text(most, 'V')}")


def _accelerating_floors(bench: Bench) -> tuple[Limit, ...]:
    needed = bench.gun.min_accelerating_voltage
    least = bench.supplies.accelerating.min_voltage
    return (
        Limit(needed, f"the gun needs at least {exact_text(needed, 'V')}"),
        Limit(least, f"the accelerating supply gives at least {exact_text(least, 'V')}"),
    )


def _usual_source(bench: Bench) -> str:
    return "own supply" if bench.supplies.plates else "accelerating supply"


def _plate_ceilings(bench: Bench, source: str) -> Iterator[Limit]:
    if bench.plates is None:
        yield Limit(0.0, "the bench has no plates")
        return
    rated = bench.plates.max_voltage
    yield Limit(rated, f"the plates are rated {exact_text(rated, 'V')}")
    if source == "accelerating supply":
        for limit in _accelerating_ceilings(bench):
            yield Limit(limit.value, f"the plates share the accelerating voltage, and {limit.why}")
    elif bench.supplies.plates is None:
        yield Limit(0.0, "the bench has no plate supply")
    else:
        most = bench.supplies.plates.max_voltage
        yield Limit(most, f"the plate supply gives at most {exact_text(most, 'V')}")


def _coil_ceilings(bench: Bench) -> Iterator[Limit]:
    coils, supply = bench.coils, bench.supplies.coils
    if coils is None:
        yield Limit(0.0, "the bench has no coils")
        return
    name = "coil pair" if coils.kind == "pair" else "long coil"
    yield Limit(coils.max_current, f"the {name} is rated {exact_text(coils.max_current, 'A')}")
    if supply is None:
        yield Limit(0.0, "the bench has no coil supply")
        return
    most = supply.max_current
    yield Limit(most, f"the coil supply gives at most {exact_text(most, 'A')}")
    driven = supply.max_voltage / coils.resistance
    yield Limit(
        driven,
        f"the coil supply gives at most {exact_text(supply.max_voltage, 'V')}, which drives "
        f"{format_quantity(driven, 'A')} through {exact_text(coils.resistance, 'ohm')}",
    )


def _shared_supply(settings: Settings) -> Iterator[Problem]:
    """Report ties that the accelerating supply, whose positive terminal is the anode, cannot give.

    It reaches from the anode down to the cathode, so the plate that is not tied to the anode is
    negative: the upper one pushes the beam down, the lower one pushes it up.
    """
    tie, source = settings.plate_tie, '"accelerating supply"'
    if tie == "symmetric":
        yield Problem(
            "plate_tie",
            '"symmetric"',
            f"with plate_source {source} one plate is at the anode: "
            'choose "lower at anode" or "upper at anode"',
        )
    elif settings.plate_reversed != (tie == "lower at anode"):
        needed = str(tie == "lower at anode").lower()
        yield Problem(
            "plate_reversed",
            str(settings.plate_reversed).lower(),
            f'with plate_source {source} and plate_tie "{tie}" the other plate is negative: '
            f"choose {needed}, or tie the other plate to the anode",
        )
