"""How far each knob may stray, and how the picture follows it."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from glowtrace.bench.model import Bench, Supply
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.goal import Goal, Knob
from glowtrace.demos.kinematics import FloatArray
from glowtrace.plan.answer import Sensitivity, Window
from glowtrace.plan.limits import limits, turned

BY_PICTURE = "the picture"
_FIRST_REACH = 0.04
"""Share of the setting that the search for the end of a window starts with."""
_SOMEWHAT_LESS = 0.85
"""Part of an expected half-window that is tried first."""
_FURTHER = 0.7
"""By how much further the next trial is, relative to the distance that still works."""
_PRECISION = 0.04
"""Share of the half-window to which its end is found."""
_HALF_PERCENT = 0.005


def window(
    prepared: PreparedBench,
    goal: Goal,
    settings: Settings,
    knob: Knob,
    model: Model,
    *,
    expected: float | None = None,
) -> Window:
    """Give the range of a knob around a working setting in which the goal is met throughout.

    The ends are found by growing the distance until the check fails, or a rating stops the knob,
    and then by bisection; what is given as the end has itself been checked and works. The half
    width ``expected``, relative to the setting, saves the first steps.
    """
    value = float(getattr(settings, knob))
    known = limits(prepared.bench, settings, knob)

    def works(trial: float) -> bool:
        return goal.is_met(prepared, turned(settings, knob, trial), model).ok

    reach = _FIRST_REACH if not expected else max(_FIRST_REACH / 8, _SOMEWHAT_LESS * expected)
    high, is_rated_high = window_end(works, value, known.high, reach)
    low, is_rated_low = window_end(works, value, known.low, reach)
    return Window(
        low,
        high,
        known.low_why if is_rated_low else BY_PICTURE,
        known.high_why if is_rated_high else BY_PICTURE,
    )


def sensitivities(
    prepared: PreparedBench,
    goal: Goal,
    settings: Settings,
    knobs: Iterable[Knob],
    model: Model,
    meter_error: float,
) -> tuple[Sensitivity, ...]:
    """Give how each measure follows each knob, by central differences on the axis."""
    found = []
    for knob in knobs:
        per_percent = _per_percent(prepared, goal, settings, knob, model)
        ripple = 100.0 * _ripple(prepared.bench, settings, knob)
        found += [
            Sensitivity(
                knob,
                measure.name,
                measure.unit,
                float(change),
                abs(float(change)) * ripple,
                abs(float(change)) * 100.0 * meter_error,
            )
            for measure, change in zip(goal.measures, per_percent, strict=True)
        ]
    return tuple(found)


def window_end(
    works: Callable[[float], bool], value: float, limit: float, reach: float
) -> tuple[float, bool]:
    """Give the last working value towards a limit, and whether the limit itself works.

    ``reach`` is the first step, relative to the value, which works.
    """
    sign = 1.0 if limit > value else -1.0
    good, step = value, reach * value
    while True:
        trial = good + sign * step
        is_beyond = sign * (trial - limit) >= 0
        trial = limit if is_beyond else trial
        if not works(trial):
            break
        good = trial
        if is_beyond:
            return limit, True
        step = _FURTHER * abs(good - value)
    bad = trial
    while abs(bad - good) > _PRECISION * max(abs(good - value), _FIRST_REACH * value / 4):
        middle = (good + bad) / 2
        if works(middle):
            good = middle
        else:
            bad = middle
    return good, False


def _per_percent(
    prepared: PreparedBench, goal: Goal, settings: Settings, knob: Knob, model: Model
) -> FloatArray:
    value = float(getattr(settings, knob))
    more = goal.measure(prepared, turned(settings, knob, value * (1 + _HALF_PERCENT)), model)
    less = goal.measure(prepared, turned(settings, knob, value * (1 - _HALF_PERCENT)), model)
    return more - less


def _ripple(bench: Bench, settings: Settings, knob: Knob) -> float:
    """Give the peak-to-peak ripple, as a fraction, of the supply behind a knob."""
    supplies = bench.supplies
    shares = settings.plate_source == "accelerating supply"
    supply: Supply | None = {
        "accelerating_voltage": supplies.accelerating,
        "plate_voltage": supplies.accelerating if shares else supplies.plates,
        "coil_current": supplies.coils,
    }[knob]
    return supply.ripple if supply is not None else 0.0
