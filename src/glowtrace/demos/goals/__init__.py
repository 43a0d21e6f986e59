"""What a demonstration is to show: one file for each kind of goal.

To add one, write a file with a frozen subclass of `Goal` and name it in `GOALS`.
"""

from __future__ import annotations

from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.wrong_fields import unknown_name
from glowtrace.demos.goals.coil_deflection import CoilDeflection
from glowtrace.demos.goals.full_circle import FullCircle
from glowtrace.demos.goals.goal import Check, Figure, Goal, Knob, Measure, unsuited
from glowtrace.demos.goals.helix_focus import HelixFocus
from glowtrace.demos.goals.plate_deflection import PlateDeflection
from glowtrace.demos.goals.straight_beam import StraightBeam
from glowtrace.demos.goals.turn_back import TurnBack
from glowtrace.errors import GlowtraceError

__all__ = [
    "GOALS",
    "Check",
    "CoilDeflection",
    "Figure",
    "FullCircle",
    "Goal",
    "HelixFocus",
    "Knob",
    "Measure",
    "PlateDeflection",
    "StraightBeam",
    "TurnBack",
    "goal_kind",
    "suitable_goals",
    "unsuited",
]

GOALS: Final[tuple[type[Goal], ...]] = (
    PlateDeflection,
    CoilDeflection,
    StraightBeam,
    TurnBack,
    FullCircle,
    HelixFocus,
)
"""Every kind of goal."""


def goal_kind(name: str) -> type[Goal]:
    """Give a kind of goal by its name.

    Raises
    ------
    GlowtraceError
        When there is none of this name; its text names those that there are.
    """
    known = {kind.name: kind for kind in GOALS}
    if name not in known:
        raise GlowtraceError(unknown_name("goal", name, list(known)))
    return known[name]


def suitable_goals(bench: Bench) -> tuple[Goal, ...]:
    """Give every goal that a bench's parts and screen can serve, with targets that suit it."""
    return tuple(kind.for_bench(bench) for kind in GOALS if unsuited(kind, bench) is None)
