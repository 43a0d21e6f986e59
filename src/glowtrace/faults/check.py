"""A check: what can be done next, what may come of it, and how likely that is for a suspect.

Nothing here opens a live circuit or touches an interlock, a cover or a bleeder. Whatever touches or
moves a lead or the tube begins with high tension off, discharged and verified.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.faults.suspect import Suspect

Array = NDArray[np.float64]
MISTAKEN: Final = 0.03
"""Chance that an outcome is reported that was not there; common practice, no source."""


class Safety(IntEnum):
    """How near a check comes to what can hurt; the safe ones are asked for first."""

    SAFE = 1
    """Look at something, read a meter, or turn a knob within the ratings and back."""
    OFF = 2
    """High tension off and discharged; no lead is touched."""
    LEAD = 3
    """A lead or the tube is moved, with everything off, discharged and verified."""
    RESPONSIBLE = 4
    """Only the person responsible does this, or nobody."""


Chances = Callable[[Suspect], Array]
"""Of one suspect: the chance (n, outcomes) of each outcome for each draw, before mistakes."""


@dataclass(frozen=True)
class Check:
    """One thing to do, and what may come of it.

    Attributes
    ----------
    key
        Short name, unique.
    do
        What to do, in full sentences, precautions first.
    safety
        See `Safety`.
    minutes
        About how long it takes.
    outcomes
        What may come of it, in plain words.
    chances
        See `Chances`.
    """

    key: str
    do: str
    safety: Safety
    minutes: float
    outcomes: tuple[str, ...]
    chances: Chances = field(repr=False)

    def likelihood(self, suspect: Suspect) -> Array:
        """Give the chance (n, outcomes) of each outcome, mistakes included."""
        count = len(self.outcomes)
        return np.asarray((1.0 - MISTAKEN) * self.chances(suspect) + MISTAKEN / count)
