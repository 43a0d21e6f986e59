"""Worksheets with the bench's own numbers: different for each learner, with a worked answer key.

The same bench, level, seed and learner give the same sheet.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from glowtrace.bench.model import Bench, CoilPair
from glowtrace.bench.prepared import PreparedBench
from glowtrace.constants import (
    ELECTRON_MASS,
    ELEMENTARY_CHARGE,
    SPECIFIC_CHARGE,
    SPEED_OF_LIGHT,
    VACUUM_PERMEABILITY,
)
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.report.worksheets import beam, coils, crossed, focus, plates
from glowtrace.report.worksheets.content import LEVELS, Level, Question, Worksheet, require_level
from glowtrace.report.worksheets.graph import reading
from glowtrace.report.worksheets.numbers import draw_numbers
from glowtrace.report.worksheets.tube import Asked
from glowtrace.report.worksheets.words import quantity
from glowtrace.watching import Cancelled, Progress

__all__ = ["LEVELS", "MOST_LEARNERS", "Level", "Worksheet", "build_worksheet", "build_worksheets"]

MOST_LEARNERS: Final = 60
MOST_SEED: Final = 999_999
_QUESTIONS: Final[dict[Level, tuple[Callable[[Asked], Question | None], ...]]] = {
    "proportion": (
        beam.units,
        beam.energy,
        reading,
        beam.speed_by_proportion,
        plates.field_and_force,
        crossed.direction_of_plates,
        plates.deflection_by_proportion,
        coils.flux_by_proportion,
        crossed.direction_of_coils,
        coils.radius_by_proportion,
        focus.focus_by_proportion,
        crossed.why_only_one_speed,
        crossed.no_work,
    ),
    "algebra": (
        beam.speed,
        reading,
        plates.deflection,
        coils.flux_of_pair,
        crossed.direction_of_coils,
        coils.radius,
        coils.charge_over_mass,
        coils.time_of_turn,
        focus.focus,
        focus.charge_over_mass_by_focus,
        crossed.null,
        crossed.why_only_one_speed,
        crossed.turn_back,
        crossed.no_work,
    ),
}


def build_worksheet(
    prepared: PreparedBench, level: str = "algebra", *, seed: int = 1, learner: int = 1
) -> Worksheet:
    """Build the sheet of one learner.

    Parameters
    ----------
    prepared
        The bench with its fields: its numbers are asked for, and its real fields answer.
    level
        See `LEVELS`: named by the mathematics it needs.
    seed
        Of the class, 0 to 999 999.
    learner
        Number of the learner, 1 to 60.

    Raises
    ------
    GlowtraceError
        An unknown level, or a number out of its range.
    """
    chosen = require_level(level)
    _require("seed", seed, 0, MOST_SEED)
    _require("learner", learner, 1, MOST_LEARNERS)
    asked = Asked(prepared, chosen, draw_numbers(prepared.bench, seed, learner))
    made = (ask(asked) for ask in _QUESTIONS[chosen])
    return Worksheet(
        bench=prepared.bench.name,
        is_invented=prepared.bench.invented,
        level=chosen,
        seed=seed,
        learner=learner,
        data=_data(prepared.bench),
        constants=_constants(prepared.bench),
        questions=tuple(question for question in made if question is not None),
    )


def build_worksheets(
    prepared: PreparedBench,
    level: str = "algebra",
    *,
    seed: int = 1,
    learners: int = 1,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> tuple[Worksheet, ...]:
    """Build the sheets of a class: learners 1, 2, ... of one seed.

    Parameters
    ----------
    prepared, level, seed
        As for `build_worksheet`.
    learners
        How many, 1 to 60.
    progress
        Called with the fraction done (0 to 1) and a few words.
    cancelled
        Asked before each sheet; where it says True, nothing is given: an empty tuple.
    """
    _require("learners", learners, 1, MOST_LEARNERS)
    made = []
    for learner in range(1, learners + 1):
        if cancelled is not None and cancelled():
            return ()
        made.append(build_worksheet(prepared, level, seed=seed, learner=learner))
        if progress is not None:
            progress(learner / learners, f"sheet {learner} of {learners}")
    return tuple(made)


def _require(name: str, value: int, low: int, high: int) -> None:
    if not low <= value <= high:
        raise GlowtraceError(Problem(name, str(value), f"give from {low} to {high}"))


def _data(bench: Bench) -> tuple[tuple[str, str, str], ...]:
    """Give the bench's data that learners need."""
    told = []
    if bench.plates is not None:
        told += [
            ("length of the plates", "L", quantity(bench.plates.length, "m", 3)),
            ("gap between the plates", "d", quantity(bench.plates.gap, "m", 3)),
        ]
    if isinstance(bench.coils, CoilPair):
        told += [
            ("turns of each coil", "n", str(bench.coils.turns)),
            ("mean radius of the coils", "R", quantity(bench.coils.mean_radius, "m", 3)),
            ("distance of the coils", "", quantity(bench.coils.spacing, "m", 3)),
        ]
    elif bench.coils is not None:
        told += [
            ("turns of the coil", "n", str(bench.coils.turns)),
            ("length of the coil", "", quantity(bench.coils.x_to - bench.coils.x_from, "m", 3)),
        ]
    return tuple(told)


def _constants(bench: Bench) -> tuple[tuple[str, str, str], ...]:
    told = [
        ("elementary charge", "e", quantity(ELEMENTARY_CHARGE, "C", 4)),
        ("mass of the electron", "m", quantity(ELECTRON_MASS, "kg", 4)),
        ("charge over mass", "e/m", quantity(SPECIFIC_CHARGE, "C/kg", 4)),
        ("speed of light", "c", quantity(SPEED_OF_LIGHT, "m/s", 4)),
    ]
    if bench.coils is not None:
        told.append(("magnetic constant", "μ₀", quantity(VACUUM_PERMEABILITY, "N/A²", 4)))
    return tuple(told)
