"""Where each knob must stop at given settings, and how far the settings are from there."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import KnobRange, check_settings, knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.goal import Knob
from glowtrace.errors import Problem
from glowtrace.plan.answer import Margin

_JUST_BEYOND = 1e-9


class Limits(NamedTuple):
    """Lowest and highest setting of a knob (SI), each with the rating behind it."""

    low: float
    low_why: str
    high: float
    high_why: str


def turned(settings: Settings, knob: Knob, value: float) -> Settings:
    """Give the settings with one knob turned."""
    return settings.model_copy(update={knob: value})


def limits(bench: Bench, settings: Settings, knob: Knob) -> Limits:
    """Give how far a knob may be turned while all else stays.

    Plates on the accelerating supply share its voltage, so there one knob limits the other.
    """
    known = knob_ranges(bench)[knob]
    low, high = known.low, known.high
    shares = settings.plate_source == "accelerating supply" and settings.plate_voltage > 0
    if knob == "plate_voltage":
        if settings.plate_source == "accelerating supply" and bench.plates is not None:
            high = min(bench.plates.max_voltage, settings.accelerating_voltage)
        elif bench.supplies.plates is not None:
            low = bench.supplies.plates.min_voltage
    elif knob == "accelerating_voltage" and shares:
        low = max(low, settings.plate_voltage)
    return Limits(
        low,
        _why(bench, settings, knob, low * (1 - _JUST_BEYOND)) or "0 is the least",
        high,
        _why(bench, settings, knob, high * (1 + _JUST_BEYOND)) or known.why,
    )


def margins(bench: Bench, settings: Settings, knobs: Iterable[Knob]) -> tuple[Margin, ...]:
    """Give the distance of each knob that is turned up from its ratings."""
    found = []
    for knob in knobs:
        value = float(getattr(settings, knob))
        if value == 0.0:
            continue
        known = limits(bench, settings, knob)
        found.append(Margin(knob, value, known.high, known.high_why))
        if known.low > 0.0:
            found.append(Margin(knob, value, known.low, known.low_why, is_floor=True))
    return tuple(found)


def least_share(bench: Bench, settings: Settings, knobs: Iterable[Knob]) -> float:
    """Give the smallest relative distance from a rating."""
    return min((margin.share for margin in margins(bench, settings, knobs)), default=1.0)


def is_allowed(bench: Bench, settings: Settings) -> bool:
    """Tell whether the bench stands the settings."""
    return not check_settings(bench, settings)


def usual_range(bench: Bench, knob: Knob) -> KnobRange:
    """Give the range of a knob, whatever the other settings."""
    return knob_ranges(bench)[knob]


def _why(bench: Bench, settings: Settings, knob: Knob, value: float) -> str:
    problems = check_settings(bench, turned(settings, knob, max(0.0, value)))
    named: list[Problem] = [problem for problem in problems if problem.field == knob] or list(
        problems
    )
    return named[0].allowed if named else ""
