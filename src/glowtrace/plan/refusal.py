"""Why no settings reach a goal, and the nearest goal that some do reach."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import count

import numpy as np

from glowtrace.bench.learning import learn
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import KNOBS, check_settings
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.goal import Check, Goal, Knob
from glowtrace.plan.answer import Binding, Refusal
from glowtrace.plan.candidates import (
    Candidate,
    bases,
    correct_for_bundle,
    find,
    rounded_to_meters,
)
from glowtrace.plan.confidence import share_that_reaches
from glowtrace.plan.limits import is_allowed, limits
from glowtrace.plan.remedies import HowThorough, remedies
from glowtrace.watching import Watch

_SMALLEST_SHARE = 0.05
_HALVINGS = 6


def refuse(
    prepared: PreparedBench,
    goal: Goal,
    held: Mapping[str, object],
    model: Model,
    tried: Sequence[Candidate],
    how: HowThorough,
    watch: Watch,
) -> Refusal:
    """Say what stops a goal that none of the candidates tried reaches."""
    bench = prepared.bench
    if not tried:
        return Refusal(Binding(_no_arrangement(bench, goal, held)), None, None, None, ())
    best = _nearest_to_allowed(bench, tried)
    binding = _binding(prepared, goal, tried, best, model)
    nearest_goal, nearest, check = _nearest(prepared, goal, best, model, watch.stretch(0.0, 0.3))
    changes = remedies(prepared, goal, held, model, best, binding, how, watch.stretch(0.3, 0.9))
    watch.note(0.9, "on how many of the tubes that this may be it works")
    possible_on = None
    if model == "bench":
        possible_on = share_that_reaches(prepared, goal, best, learn(prepared).after)
    return Refusal(
        binding, nearest_goal, None if nearest is None else nearest.settings, check, changes,
        possible_on,
    )  # fmt: skip


def _no_arrangement(bench: Bench, goal: Goal, held: Mapping[str, object]) -> str:
    switches = {name: value for name, value in held.items() if name not in KNOBS}
    given = ", ".join(f"{name} = {_as_set(value)}" for name, value in switches.items())
    if given and next(bases(bench, goal, {}), None) is not None:
        return f"no arrangement that can do it has the fixed {given}"
    return "the bench cannot be connected so that it does this"


def _as_set(value: object) -> str:
    """Write a switch as a settings file does."""
    return str(value).lower() if isinstance(value, bool) else f'"{value}"'


def _excess(bench: Bench, settings: Settings) -> float:
    """Give the largest ratio by which a knob passes its rating, 0 where none does."""
    excess = 0.0
    for problem in check_settings(bench, settings):
        knob = _knob(problem.field)
        if knob is None:
            return float("inf")
        value, known = float(getattr(settings, knob)), limits(bench, settings, knob)
        ceiling = value / known.high if known.high > 0 else float("inf")
        floor = known.low / value if value > 0 else float("inf")
        excess = max(excess, ceiling, floor)
    return excess


def _knob(field: str) -> Knob | None:
    for knob in ("accelerating_voltage", "plate_voltage", "coil_current"):
        if knob == field:
            return knob
    return None


def _nearest_to_allowed(bench: Bench, tried: Sequence[Candidate]) -> Candidate:
    return min(tried, key=lambda each: (not each.is_solved, _excess(bench, each.settings)))


def _binding(
    prepared: PreparedBench,
    goal: Goal,
    tried: Sequence[Candidate],
    best: Candidate,
    model: Model,
) -> Binding:
    """Name what stops the goal: a rating where one does, else what the picture lacks."""
    bench = prepared.bench
    problems = check_settings(bench, best.settings)
    if problems:
        problem = problems[0]
        knob = _knob(problem.field)
        if knob is None:
            return Binding(str(problem))
        known, needed = limits(bench, best.settings, knob), getattr(best.settings, knob)
        limit = known.high if needed > known.high else known.low
        return Binding(problem.allowed, knob, needed, limit)
    allowed = [each for each in tried if is_allowed(bench, each.settings)]
    checks = [goal.is_met(prepared, each.settings, model) for each in allowed]
    fewest = min(checks, key=lambda check: len(check.shortcomings) or len(check.figures))
    wrong = "; ".join(str(figure) for figure in fewest.shortcomings)
    return Binding(wrong or f"the picture that comes nearest is another one: {fewest.kind}")


def _nearest(
    prepared: PreparedBench, goal: Goal, best: Candidate, model: Model, watch: Watch
) -> tuple[Goal | None, Candidate | None, Check | None]:
    """Ask for less and less until it works, then for as much as works, by bisection."""
    tries = count()

    def reach(other: Goal) -> tuple[Goal, Candidate, Check] | None:
        watch.note(next(tries) / (3 * _HALVINGS), "the nearest goal that works")
        if other.misfit(prepared.bench) is not None:
            return None
        candidate = find(prepared, other, best.settings, best.solved, model)
        if not candidate.is_solved or not is_allowed(prepared.bench, candidate.settings):
            return None
        if model == "bench":
            candidate = correct_for_bundle(prepared, other, candidate, model)
            candidate = rounded_to_meters(prepared, other, candidate, model)
        check = other.is_met(prepared, candidate.settings, model)
        return (other, candidate, check) if check.ok else None

    def attempt(share: float) -> tuple[Goal, Candidate, Check] | None:
        easier = goal.easier(share)
        return None if easier is None else reach(easier)

    bad, good, found = 1.0, 0.0, None
    for share in np.geomspace(0.85, _SMALLEST_SHARE, _HALVINGS):
        found = attempt(float(share))
        if found is not None:
            good = float(share)
            break
        bad = float(share)
    if found is None:
        others = (reach(other) for other in goal.alternatives())
        return next((other for other in others if other is not None), (None, None, None))
    for _ in range(_HALVINGS):
        middle = (good + bad) / 2
        better = attempt(middle)
        if better is None:
            bad = middle
        else:
            good, found = middle, better
    return found
