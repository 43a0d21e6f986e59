"""How sure it is that something is seen: a margin over what is needed, its factor, and words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.light.trust import factor_of

Array = NDArray[np.float64]

Word = Literal["surely", "probably", "probably not", "no"]
SURE: Final = 0.95
"""Chance from which something counts as sure."""


@dataclass(frozen=True)
class Verdict:
    """Whether the trace is seen.

    Attributes
    ----------
    margin
        How many times what is needed there is: the median; 1 is just enough.
    factor
        Within which the margin stands (95 %); infinite where some inputs give no light at all.
    chance
        Share of the drawn inputs for which the trace is seen.
    """

    margin: float
    factor: float
    chance: float

    @property
    def word(self) -> Word:
        """The verdict in words: surely from 95 %, probably from 50 %, no below 5 %."""
        if self.chance >= SURE:
            return "surely"
        if self.chance >= 0.5:
            return "probably"
        return "probably not" if self.chance > 1.0 - SURE else "no"


def judge(margins: Array) -> Verdict:
    """Judge drawn margins; above 1 the trace is seen."""
    return Verdict(float(np.median(margins)), factor_of(margins), float(np.mean(margins > 1.0)))
