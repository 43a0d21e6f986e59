"""How surely an answer works, found on tubes drawn from what is known of the bench."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

import numpy as np

from glowtrace.bench.learning import Belief
from glowtrace.bench.possible_tubes import PossibleTube, PossibleTubes, possible_tubes
from glowtrace.bench.prediction import FACTOR
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.goal import Goal, Knob
from glowtrace.demos.goals.helix_focus import HelixFocus
from glowtrace.plan.answer import Window
from glowtrace.plan.candidates import Candidate, find
from glowtrace.plan.certainty import SURE, Certainty, Expected, SureWindow
from glowtrace.plan.limits import is_allowed, turned
from glowtrace.plan.windows import window_end

_ASKED: Final = 100
"""Tubes that are asked whether a goal can be reached on them."""
_REACH: Final = 0.4
"""Part of the way to a window's end that is tried first."""


def certainty(
    prepared: PreparedBench,
    goal: Goal,
    settings: Settings,
    windows: Mapping[Knob, Window],
    belief: Belief,
) -> Certainty | None:
    """Give how surely settings work, and in which part of their windows.

    Parameters
    ----------
    prepared, goal, settings
        What was planned.
    windows
        In which it works on the bench as it is told.
    belief
        About the numbers of the bench.

    Returns
    -------
    Certainty or None
        None where nothing is uncertain, and for a focus: it is made by the whole beam, which one
        electron does not tell.
    """
    if not belief.names or isinstance(goal, HelixFocus):
        return None
    drawn = possible_tubes(prepared, settings, belief)
    checks = [goal.is_met(tube, settings) for tube in drawn.tubes]
    met = [
        check.ok and not tube.shift.is_elsewhere
        for check, tube in zip(checks, drawn.tubes, strict=True)
    ]
    measured = np.array([check.measured for check in checks])
    share = float(np.mean(met))
    # Those that fail here fail nearby too: asked first, they end a trial soonest.
    order = sorted(zip(met, range(len(met)), drawn.tubes, strict=True), key=lambda each: each[:2])
    tubes = [tube for _, _, tube in order]
    sure: dict[Knob, SureWindow] = {}
    if share >= SURE:
        works = _works(goal, settings, tubes)
        for knob, window in windows.items():
            sure[knob] = _window(settings, knob, window, works)
    worth, part = _worth_measuring(goal, drawn, measured)
    return Certainty(
        share,
        len(met),
        tuple(
            Expected(each.name, each.unit, float(column.mean()), float(FACTOR * column.std()))
            for each, column in zip(goal.measures, measured.T, strict=True)
            if column.std() != 0.0  # one that is seen at other knobs, and was not moved
        ),
        sure,
        worth,
        part,
    )


def share_that_reaches(
    prepared: PreparedBench, goal: Goal, best: Candidate, belief: Belief
) -> float | None:
    """Give the part of the tubes that the bench may be on which a refused goal is reached.

    Parameters
    ----------
    prepared, goal
        What cannot be reached with the bench's own numbers.
    best
        The settings that come nearest, beyond a rating perhaps. On each tube they are turned to
        where the goal is there.
    belief
        About the numbers of the bench.

    Returns
    -------
    float or None
        None as for `certainty`.
    """
    if not belief.names or isinstance(goal, HelixFocus):
        return None
    first = best.settings

    def is_reached(tube: PossibleTube) -> bool:
        there = find(tube, goal, first, best.solved, "bench", start=first)
        is_found = there.is_solved and is_allowed(prepared.bench, there.settings)
        return is_found and goal.is_met(tube, there.settings).ok

    tubes = possible_tubes(prepared, first, belief, _ASKED).tubes
    return float(np.mean([not tube.shift.is_elsewhere and is_reached(tube) for tube in tubes]))


def _works(
    goal: Goal, settings: Settings, tubes: list[PossibleTube]
) -> Callable[[Knob, float], bool]:
    most = int((1.0 - SURE) * len(tubes) + 1e-9)

    def works(knob: Knob, value: float) -> bool:
        failed = 0
        for tube in tubes:
            is_met = not tube.shift.is_elsewhere
            is_met = is_met and goal.is_met(tube, turned(settings, knob, value)).ok
            failed += not is_met
            if failed > most:
                return False
        return True

    return works


def _window(
    settings: Settings, knob: Knob, window: Window, works: Callable[[Knob, float], bool]
) -> SureWindow:
    value = float(getattr(settings, knob))
    low, high = (
        window_end(lambda trial: works(knob, trial), value, end, _REACH * abs(end / value - 1.0))[0]
        if end != value
        else value
        for end in (window.low, window.high)
    )
    return SureWindow(low, high)


def _worth_measuring(
    goal: Goal, drawn: PossibleTubes, measured: np.ndarray[Any, Any]
) -> tuple[str, float]:
    """Find the number with the largest share in the measure that strays most; linear."""
    seen = np.isfinite(measured).all(axis=1)
    away = measured[seen] - measured[seen].mean(axis=0)
    numbers = drawn.numbers[seen] - drawn.numbers[seen].mean(axis=0)
    worst = int(np.argmax(away.std(axis=0) / goal.scales()))
    sizes = numbers.std(axis=0)
    slopes = np.linalg.lstsq(numbers / sizes, away[:, worst], rcond=None)[0]
    carried = (numbers / sizes).T @ (numbers / sizes) @ slopes / len(numbers)
    shares = slopes * carried / max(float(slopes @ carried), 1e-300)
    largest = int(np.argmax(shares))
    return drawn.belief.names[largest], float(shares[largest])
