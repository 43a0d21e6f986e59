"""Settings for a goal: closed form first, then the real fields, then the whole bundle."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from glowtrace.bench.arguments import require_kind, require_model
from glowtrace.bench.checking import check, nearest_name
from glowtrace.bench.learning import learn
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import goal_kind
from glowtrace.demos.goals.goal import Goal, Knob, unsuited
from glowtrace.demos.goals.straight_beam import StraightBeam
from glowtrace.demos.null import null_balance
from glowtrace.errors import BenchError, Problem
from glowtrace.plan.answer import (
    BRIGHTEST,
    SPARING,
    Binding,
    IdealAnswer,
    Plan,
    Planned,
    Refusal,
    Window,
)
from glowtrace.plan.candidates import (
    TIES,
    Candidate,
    bases,
    correct_for_bundle,
    find,
    rounded_to_meters,
    scaled,
    solved_knobs,
)
from glowtrace.plan.confidence import certainty
from glowtrace.plan.limits import is_allowed, least_share, margins
from glowtrace.plan.refusal import refuse
from glowtrace.plan.remedies import HowThorough
from glowtrace.plan.windows import sensitivities, window
from glowtrace.watching import Cancelled, Progress, Watch

METER_ERROR: Final = 0.01
"""Error of a meter as a fraction of its reading, where nothing better is known: common practice,
no source."""
_ALIKE: Final = 0.8
"""Share of the widest window from which a window counts as alike."""
_CLEAR_OF_RATINGS: Final = 0.03
"""Distance from a rating, as a share, from which the brighter of two settings is tried first."""
_SOLVING: Final = 0.75
"""Part of a search that solving for the axis takes, roughly; the rest is flying whole beams."""
_SURENESS: Final = 0.7
"""Part of working an answer out after which its sureness is found."""


def _meant(goal: Goal | str, bench: Bench) -> Goal | Binding:
    """Give the goal, with targets that suit the bench where only its name is told; or why not."""
    reason = unsuited(goal_kind(goal) if isinstance(goal, str) else goal, bench)
    if reason is None:
        goal = goal_kind(goal).for_bench(bench) if isinstance(goal, str) else goal
        reason = goal.misfit(bench)
        if reason is None:
            return goal
    return Binding(reason)


def plan_goal(
    prepared: PreparedBench,
    goal: Goal | str,
    *,
    model: Model = "bench",
    fixed: Mapping[str, object] | None = None,
    circuit: Settings | None = None,
    answers: int = 3,
    meter_error: float = METER_ERROR,
    remedies: HowThorough = "all",
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Planned:
    """Find settings that reach a goal, or say why there are none.

    Parameters
    ----------
    prepared
        The bench with its fields.
    goal
        What to show; see `glowtrace.demos.goals`. A name stands for that goal with the targets
        that suit the bench: "null".
    model
        "bench": real fields and the whole bundle. "ideal": one electron in the textbook's fields.
    fixed
        Fields of `Settings` that are not to be changed: ``{"accelerating_voltage": 3000.0}``.
        The knobs that are left are turned; a goal with more aims than knobs left has its first
        aims met exactly and the others only within what its check allows.
    circuit
        What is set: the plates stay tied to the anode as there, where that serves. Tied
        symmetrically when left out.
    answers
        How many to give at most.
    meter_error
        Error of the meters as a fraction of the reading, for the sensitivities.
    remedies
        Which changes a refusal looks for that would help. Each is computed on the changed bench;
        plates that are moved have new fields to solve, a second or more, which "quick" leaves out.
    progress
        Called with the fraction done, which is estimated, and a few words.
    cancelled
        Asked again and again whether to give up.

    Returns
    -------
    Planned
        Answers, the best first as their criterion says; or a refusal that names what stops it.

    Raises
    ------
    BenchError
        If a fixed setting has an unknown name or a senseless value.
    GlowtraceError
        If there is no such goal or model, or the bench was not prepared.
    GivenUpError
        If it was cancelled.
    """
    require_model(model)
    require_kind(prepared, PreparedBench)
    held = _checked(fixed or {})
    goal_or_reason = _meant(goal, prepared.bench)
    if isinstance(goal_or_reason, Binding):
        return Planned((), Refusal(goal_or_reason, None, None, None, ()))
    goal = goal_or_reason
    watch = Watch(progress, cancelled)
    tried: list[Candidate] = []
    kept = circuit.plate_tie if circuit is not None else TIES[0]
    others = tuple(tie for tie in TIES if tie != kept)
    stages = (((kept,), False, 0.3), (others, False, 0.4), (TIES, True, 0.5))
    begin = 0.0
    for ties, is_desperate, searched in stages:
        search = watch.stretch(begin, searched)
        begin = searched
        starts = tuple(bases(prepared.bench, goal, held, is_desperate=is_desperate, ties=ties))
        new = _candidates(prepared, goal, held, model, starts, search)
        tried += new
        found = _working(prepared, goal, new, model, answers, search)
        if found:
            return Planned(_plans(prepared, goal, found, model, meter_error, held,
                                  watch.stretch(searched, 1.0)), None)  # fmt: skip
    last = watch.stretch(searched, 1.0)
    return Planned((), refuse(prepared, goal, held, model, tried, remedies, last))


def _checked(fixed: Mapping[str, object]) -> dict[str, object]:
    """Refuse fixed settings that do not exist, or with values that make no sense."""
    known = list(Settings.model_fields)
    unknown = [
        Problem(name, "an unknown setting", nearest_name(name, known))
        for name in fixed
        if name not in known
    ]
    if unknown:
        raise BenchError("fixed settings", unknown)
    values = {"accelerating_voltage": 1.0, **fixed}
    sound = check(Settings, values, "fixed settings")
    return {name: getattr(sound, name) for name in fixed}


def _candidates(
    prepared: PreparedBench,
    goal: Goal,
    held: Mapping[str, object],
    model: Model,
    starts: tuple[Settings, ...],
    watch: Watch,
) -> list[Candidate]:
    solved = solved_knobs(goal, held)
    found: list[Candidate] = []
    for number, base in enumerate(starts):
        watch.note(_SOLVING * number / len(starts), "solving for the middle of the beam")
        candidate = None
        last = next((each for each in reversed(found) if each.is_solved), None)
        if last is not None:
            start = scaled(last.settings, base)
            candidate = find(prepared, goal, base, solved, model, start=start)
        if candidate is None or not candidate.is_solved:
            candidate = find(prepared, goal, base, solved, model)
        found.append(candidate)
    return found


def _working(
    prepared: PreparedBench,
    goal: Goal,
    tried: list[Candidate],
    model: Model,
    answers: int,
    watch: Watch,
) -> list[Candidate]:
    """Give candidates that the bench stands and that pass the check: different ones first."""
    bench = prepared.bench
    allowed = [each for each in tried if is_allowed(bench, each.settings)]
    allowed.sort(key=lambda each: _eagerness(bench, goal, each.settings), reverse=True)
    # Where the axis misses the aims the whole beam may still do: those come last.
    solved, unsolved = (
        _varied([each for each in allowed if each.is_solved is is_solved])
        for is_solved in (True, False)
    )
    allowed = [*solved, *unsolved]
    working: list[Candidate] = []
    for number, candidate in enumerate(allowed):
        if len(working) == answers:
            break
        done = max(len(working) / answers, number / len(allowed))
        watch.note(_SOLVING + (1.0 - _SOLVING) * done, "checking the whole beam")
        if model == "bench":
            candidate = correct_for_bundle(prepared, goal, candidate, model)
            candidate = rounded_to_meters(prepared, goal, candidate, model)
        is_new = all(candidate.settings != other.settings for other in working)
        if is_new and goal.is_met(prepared, candidate.settings, model).ok:
            working.append(candidate)
    return working


def _eagerness(bench: Bench, goal: Goal, settings: Settings) -> tuple[bool, float]:
    """Give what settings are tried by: bright ones on a phosphor, else those far from ratings."""
    share = least_share(bench, settings, goal.knobs)
    is_clear = share >= _CLEAR_OF_RATINGS
    if bench.plane.glows or not is_clear:
        return is_clear, share
    return is_clear, settings.accelerating_voltage


def _varied(candidates: list[Candidate]) -> list[Candidate]:
    """Put the first of every arrangement before the second of any."""
    seen: dict[tuple[object, ...], int] = {}
    ranked = []
    for n, candidate in enumerate(candidates):
        settings = candidate.settings
        kind = (
            settings.plate_tie,
            settings.plate_source,
            settings.plate_reversed,
            settings.coil_reversed,
        )
        seen[kind] = seen.get(kind, -1) + 1
        ranked.append((seen[kind], n))
    return [candidates[n] for _, n in sorted(ranked)]


def _plans(
    prepared: PreparedBench,
    goal: Goal,
    found: list[Candidate],
    model: Model,
    meter_error: float,
    held: Mapping[str, object],
    watch: Watch,
) -> tuple[Plan, ...]:
    """Work candidates out, and rank them."""
    plans: list[Plan] = []
    belief = learn(prepared).after
    for number, each in enumerate(found):
        part = watch.stretch(number / len(found), (number + 1) / len(found))
        near = plans[-1] if plans else None
        plan = _plan(prepared, goal, each, model, meter_error, near, part)
        if model == "bench" and belief.names:
            part.note(_SURENESS, "how surely it works")
            sure = certainty(prepared, goal, each.settings, plan.windows, belief)
            plan = replace(plan, certainty=sure)
        others = () if "plate_tie" in held else _other_ties(prepared, goal, each, model)
        plans.append(replace(plan, other_ties=others))
    return tuple(_ranked(prepared.bench, plans))


def _ranked(bench: Bench, plans: list[Plan]) -> Iterator[Plan]:
    """Give plans by their windows; alike ones by what `BRIGHTEST` and `SPARING` say."""
    left = sorted(plans, key=lambda plan: plan.narrowest, reverse=True)
    in_gas = bench.plane.glows
    while left:
        alike = [plan for plan in left if plan.narrowest >= _ALIKE * left[0].narrowest]
        best = max(
            alike,
            key=lambda plan: (
                plan.least_margin if in_gas else plan.settings.accelerating_voltage,
                plan.narrowest,
            ),
        )
        left.remove(best)
        yield replace(best, criterion=SPARING if in_gas else BRIGHTEST)


def _other_ties(
    prepared: PreparedBench, goal: Goal, candidate: Candidate, model: Model
) -> tuple[Settings, ...]:
    """Give the settings that show the same with the plates tied otherwise to the anode."""
    real = candidate.settings
    if "plates" not in goal.needs or real.plate_source != "own supply":
        return ()
    found = []
    for tie in TIES:
        if tie == real.plate_tie:
            continue
        tied = real.model_copy(update={"plate_tie": tie})
        other = find(prepared, goal, tied, candidate.solved, model, start=tied)
        if not other.is_solved:
            continue
        if model == "bench":
            other = correct_for_bundle(prepared, goal, other, model)
            other = rounded_to_meters(prepared, goal, other, model)
        settings = other.settings
        if is_allowed(prepared.bench, settings) and goal.is_met(prepared, settings, model).ok:
            found.append(settings)
    return tuple(found)


def _plan(
    prepared: PreparedBench,
    goal: Goal,
    candidate: Candidate,
    model: Model,
    meter_error: float,
    near: Plan | None,
    watch: Watch,
) -> Plan:
    """Work a candidate out; a plan already made tells about how wide the windows will be."""
    settings, bench = candidate.settings, prepared.bench
    used: list[Knob] = [knob for knob in goal.knobs if getattr(settings, knob) > 0]
    windows: dict[Knob, Window] = {}
    for number, knob in enumerate(used):
        watch.note(number / (len(used) + 1), f"how far the {knob.replace('_', ' ')} may stray")
        windows[knob] = window(
            prepared, goal, settings, knob, model,
            expected=near.half_window(knob) if near is not None else None,
        )  # fmt: skip
    watch.note(len(used) / (len(used) + 1), "sensitivities, and the textbook's settings")
    return Plan(
        goal=goal,
        settings=settings,
        model=model,
        check=goal.is_met(prepared, settings, model),
        windows=windows,
        sensitivities=sensitivities(prepared, goal, settings, used, model, meter_error),
        margins=margins(bench, settings, used),
        ideal=_ideal(prepared, goal, candidate) if model == "bench" else None,
        picture=prepared.picture(settings, model=model),
        balance=null_balance(bench, settings) if isinstance(goal, StraightBeam) else None,
    )


def _ideal(prepared: PreparedBench, goal: Goal, candidate: Candidate) -> IdealAnswer | None:
    """Solve the same in the ideal model, and see what its settings do on the bench."""
    real = candidate.settings
    ideal = find(prepared, goal, real, candidate.solved, "ideal")
    if not ideal.is_solved:
        return None
    difference: dict[Knob, float] = {
        knob: float(getattr(ideal.settings, knob) / getattr(real, knob) - 1.0)
        for knob in candidate.solved
    }
    assert all(np.isfinite(value) for value in difference.values())
    return IdealAnswer(ideal.settings, difference, goal.is_met(prepared, ideal.settings, "bench"))
