"""Settings that may reach a goal: every arrangement at several accelerating voltages, solved."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.goal import Goal, Knob
from glowtrace.demos.kinematics import FloatArray
from glowtrace.plan.limits import is_allowed, usual_range
from glowtrace.plan.roots import solve

_VOLTAGES = (0.08, 0.25, 0.45, 0.65, 0.9)
"""Parts of the range of the accelerating voltage at which answers are looked for."""
_EXTREMES = (0.0, 1.0)
TIES: Final = ("symmetric", "lower at anode", "upper at anode")
_FIGURES = (3, 4)
"""Figures that a supply's meter shows: as few as still do."""
_SOLVED = 0.05
"""Residual, in just noticeable changes, up to which an equation counts as solved."""
_CORRECTIONS = 2


@dataclass(frozen=True)
class Candidate:
    """Settings found by turning the solved knobs until the axis does what is wanted."""

    settings: Settings
    solved: tuple[Knob, ...]
    is_solved: bool
    """Whether the axis reaches the goal; ratings are another matter."""


def solved_knobs(goal: Goal, fixed: Mapping[str, object]) -> tuple[Knob, ...]:
    """Give the knobs to turn: one for each measure, of those that are not fixed."""
    return tuple(knob for knob in goal.knobs if knob not in fixed)[: len(goal.measures)]


def bases(
    bench: Bench,
    goal: Goal,
    fixed: Mapping[str, object],
    *,
    is_desperate: bool = False,
    ties: Container[str] = TIES,
) -> Iterator[Settings]:
    """Give every arrangement at every accelerating voltage to try.

    Plates that have a supply of their own are fed from it, unless the source is fixed, and tied
    to the anode in one of the ``ties``. ``is_desperate`` gives the ends of the voltage's range
    instead of its inside.
    """
    parts = _EXTREMES if is_desperate else _VOLTAGES
    low, high, _ = usual_range(bench, "accelerating_voltage")
    voltages = [_handy(low + part * (high - low), low, high) for part in parts]
    if "accelerating_voltage" in fixed:
        voltages = voltages[:1]
    seen: set[Settings] = set()
    for arrangement in goal.arrangements(bench):
        if not _agrees(bench, arrangement, fixed):
            continue
        is_own = arrangement.get("plate_source") == "own supply"
        if is_own and arrangement["plate_tie"] not in ties:
            continue
        for voltage in voltages:
            values = {"accelerating_voltage": voltage, **arrangement, **fixed}
            base = Settings.model_validate(values)
            if base not in seen:
                seen.add(base)
                yield base


def find(
    prepared: PreparedBench,
    goal: Goal,
    base: Settings,
    solved: tuple[Knob, ...],
    model: Model,
    *,
    offset: FloatArray | None = None,
    start: Settings | None = None,
) -> Candidate:
    """Turn the solved knobs until the axis reaches the goal.

    Parameters
    ----------
    base
        Arrangement, accelerating voltage and fixed knobs.
    offset
        What to add to the axis's measures to have the bundle's; none when left out.
    start
        Settings to start from; the closed form's when left out.
    """
    if not solved:
        return Candidate(base, solved, True)  # nothing to turn: the whole beam decides
    guess: Mapping[Knob, float] = goal.guess(prepared.bench, base) if start is None else {}
    first = base if start is None else start
    x = np.array([guess.get(knob, getattr(first, knob)) for knob in solved], dtype=float)
    count = len(solved)
    shift = np.zeros(len(goal.measures)) if offset is None else offset / goal.scales()

    def settings_at(x: FloatArray) -> Settings:
        return base.model_copy(
            update={knob: float(value) for knob, value in zip(solved, x, strict=True)}
        )

    def function(x: FloatArray) -> FloatArray:
        wrong: FloatArray = goal.residual(prepared, settings_at(x), model) + shift
        return wrong[:count]

    if not (x > 0).all():
        return Candidate(settings_at(np.maximum(x, 0.0)), solved, False)
    x, wrong = solve(function, x)
    return Candidate(settings_at(x), solved, bool(np.abs(wrong).max() < _SOLVED))


def scaled(known: Settings, base: Settings) -> Settings:
    """Give settings that fly almost the same path at the accelerating voltage of ``base``.

    With slow electrons all paths stay the same where the plate voltage goes as the accelerating
    voltage and the coil current as its root.
    """
    ratio = base.accelerating_voltage / known.accelerating_voltage
    return base.model_copy(
        update={
            "plate_voltage": known.plate_voltage * ratio,
            "coil_current": known.coil_current * ratio**0.5,
        }
    )


def correct_for_bundle(
    prepared: PreparedBench, goal: Goal, candidate: Candidate, model: Model
) -> Candidate:
    """Move a candidate so that the whole bundle, not the axis, has the wanted measures.

    The bundle differs from the axis by an offset that hardly depends on the knobs; the axis is
    then aimed that much aside.
    """
    if not candidate.solved or not candidate.is_solved:
        return candidate
    for _ in range(_CORRECTIONS):
        settings = candidate.settings
        measured = goal.bundle_measure(prepared, settings, model)
        offset = measured - goal.measure(prepared, settings, model)
        wrong = (measured - goal.aims()) / goal.scales()
        count = len(candidate.solved)
        if not np.isfinite(offset).all() or np.abs(wrong[:count]).max() < _SOLVED:
            return candidate
        better = find(
            prepared, goal, settings, candidate.solved, model, offset=offset, start=settings
        )
        if not better.is_solved or not is_allowed(prepared.bench, better.settings):
            return candidate
        candidate = better
    return candidate


def rounded_to_meters(
    prepared: PreparedBench, goal: Goal, candidate: Candidate, model: Model
) -> Candidate:
    """Round the solved knobs to what a supply shows, as long as the goal is still met.

    In the ideal model, which is there to be compared, they stay as they are.
    """
    if model == "ideal":
        return candidate
    for figures in _FIGURES:
        values: dict[str, float] = {
            knob: float(f"{getattr(candidate.settings, knob):.{figures}g}")
            for knob in candidate.solved
        }
        settings = candidate.settings.model_copy(update=values)
        if is_allowed(prepared.bench, settings) and goal.is_met(prepared, settings, model).ok:
            return replace(candidate, settings=settings)
    return candidate


def _agrees(bench: Bench, arrangement: Mapping[str, object], fixed: Mapping[str, object]) -> bool:
    if any(arrangement.get(name, value) != value for name, value in fixed.items()):
        return False
    if "plate_source" in fixed or bench.supplies.plates is None:
        return True
    return arrangement.get("plate_source", "own supply") == "own supply"


def _handy(value: float, low: float, high: float) -> float:
    """Round to two figures, as one sets a knob, within the range."""
    return min(high, max(low, float(f"{value:.1e}")))
