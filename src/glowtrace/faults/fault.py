"""A fault: what may be wrong on a bench, how often, what it does to the tube, what cures it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.faults.condition import Condition

Group = Literal[
    "nothing", "coils", "plates", "heater", "gun", "high tension", "meters", "surroundings"
]
"""Where on the bench it is."""
OFF_FIRST: Final = (
    "High tension off and unplugged, discharged, wait, and let the person responsible verify that "
    "no voltage is left; then"
)
"""Begins every sentence that has a lead, a plug or a part of the bench touched or moved."""
COMMON_PRACTICE: Final = "common practice, no source"
Change = Callable[[Condition], Condition]
"""What a fault does, at one drawn size of it, to the condition for any setting of the knobs."""


@dataclass(frozen=True)
class Scene:
    """What a fault may look at when its size is drawn.

    Attributes
    ----------
    bench, settings
        What stands there, and what knobs and meters say.
    induced
        Potential that the upper plate takes as a part of the lower one's when it floats without
        charge beside the anode at 0 V, and the same the other way round; zeros without plates.
    """

    bench: Bench
    settings: Settings
    induced: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Fault:
    """One thing that can be wrong.

    Attributes
    ----------
    key
        Short name in lower case, unique.
    title
        In plain words.
    group
        Where it is.
    odds
        Prior odds, relative to the other faults.
    why
        How it comes about, one sentence.
    remedy
        What cures it, one or two sentences; begins with `OFF_FIRST` where a lead is touched.
    applies
        Whether a bench at these settings can have it.
    draw
        Draws its size: a scene and a random generator in, a change out. None for the fault that
        nobody thought of, which has no picture of its own.
    draws
        How many sizes the table holds, as a multiple of the usual number.
    between
        How far apart the drawn sizes lie, where they are few for all that they can do to the
        line: as a part of what each does.
    odds_from
        Where the odds come from.
    """

    key: str
    title: str
    group: Group
    odds: float
    why: str
    remedy: str
    applies: Callable[[Bench, Settings], bool] = field(repr=False)
    draw: Callable[[Scene, np.random.Generator], Change] | None = field(repr=False)
    draws: float = 1.0
    between: float = 0.0
    odds_from: str = COMMON_PRACTICE
