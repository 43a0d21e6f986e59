"""Nothing wrong, and something that nobody thought of."""

from __future__ import annotations

from typing import Final

import numpy as np

from glowtrace.faults.fault import Change, Fault, Scene


def _no_change(scene: Scene, rng: np.random.Generator) -> Change:
    return lambda condition: condition


IN_ORDER: Final = Fault(
    key="in order",
    title="nothing is wrong",
    group="nothing",
    odds=8.0,
    why="The picture may be what bench and settings give, and the expectation be wrong.",
    remedy="Compare with the picture that the bench gives at these settings.",
    applies=lambda bench, settings: True,
    draw=_no_change,
)
SOMETHING_ELSE: Final = Fault(
    key="something else",
    title="something that is not in this list",
    group="nothing",
    odds=3.0,
    why="No list is complete: two faults at once, or one that nobody thought of.",
    remedy="Switch everything off and ask the person responsible before going on.",
    applies=lambda bench, settings: True,
    draw=None,
)
