"""What is computed of a setting to lie over a camera's picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.computed_line import ComputedLine, computed_line
from glowtrace.bench.learning import Belief
from glowtrace.bench.prediction import Prediction, predict
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.web.glow import NOWHERE
from glowtrace.web.showing import textbook_line

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class LyingOver:
    """What lies over the picture; places (k, 2) are u and v in m."""

    line: ComputedLine
    textbook: Array
    prediction: Prediction | None
    """How well the line is known; None where that is not told."""
    band: Array
    """Around where the line may lie, 95 %; empty where that is not known."""


def lying_over(
    prepared: PreparedBench, settings: Settings, belief: Belief | None, *, is_resting: bool
) -> LyingOver:
    """Compute what lies over the picture; quicker, and less exact, while a knob turns."""
    found = None
    if belief is not None and belief.names and settings.voltage_on_beam > 0.0:
        found = predict(prepared, settings, belief=belief, is_checked=is_resting)
    return LyingOver(
        computed_line(prepared, settings),
        textbook_line(prepared, settings, is_exact=is_resting),
        found,
        NOWHERE if found is None else found.outline,
    )
