"""A plain statement about what is seen, and how likely it is when a picture is there.

Nobody sees perfectly: each statement has a chance of being left out although it holds, and of
being made although it does not. Both are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.faults.looks import Look
from glowtrace.faults.seen import Seen
from glowtrace.faults.variations import AS_SET

Array = NDArray[np.float64]
Looks = Mapping[str, Look]
Shape = Literal["line", "circle", "spot"]
"""What is looked at."""
Holds = Callable[[Looks, Looks], Array]
"""Of n draws, and of the one with nothing wrong: the chance (n,) that a careful eye agrees."""

LEFT_OUT = 0.4
"""Chance that a statement that would be made is left out of a list that nobody has to finish."""
NEVER = 1e-3
"""Chance of an error that hardly anybody makes."""


@dataclass(frozen=True)
class Statement:
    """One thing that can be said about what is seen.

    Attributes
    ----------
    key
        Its name; its sentence is in the catalogues.
    about
        "light", "line", "waiting", "knobs" or "meters": for the order in a list.
    holds
        See `Holds`.
    missed, wrong
        Chance of not being made although it holds, and of being made although it does not.
    tells
        Checks that need not be made once it is said, by their keys.
    includes
        Statements that it says too, by their keys.
    shape
        What it speaks of.
    """

    key: Seen
    about: str
    holds: Holds = field(repr=False)
    missed: float = 0.08
    wrong: float = 0.03
    tells: tuple[str, ...] = ()
    includes: tuple[Seen, ...] = ()
    shape: Shape = "line"

    @property
    def is_seen_at_once(self) -> bool:
        """Whether no knob has to be turned for it, no meter read, and nothing waited for."""
        return self.about in {"light", "line"}

    def silence(self, looks: Looks, usual: Looks) -> Array:
        """Give the chance (n,) that nothing is said of it by somebody who goes through the list.

        What needs a knob turned, a meter read or some minutes may not have been tried: silence
        tells nothing.
        """
        if not self.is_seen_at_once:
            return np.ones(len(looks[AS_SET].lit))
        return np.asarray(1.0 - (1.0 - LEFT_OUT) * self.chance(looks, usual))

    def chance(self, looks: Looks, usual: Looks) -> Array:
        """Give the chance (n,) that it is said to hold, errors of the onlooker included.

        Of a line nobody speaks by mistake where there is none.
        """
        held = self.holds(looks, usual)
        needs_light = self.about in {"line", "waiting", "knobs"}
        wrong = np.where(looks[AS_SET].lit > 0.0, self.wrong, NEVER if needs_light else self.wrong)
        return np.asarray((1.0 - self.missed) * held + wrong * (1.0 - held))


def differs(statements: Sequence[Statement], looks: Looks, usual: Looks) -> Array:
    """Give the chance (n,) that a careful eye finds it other than with nothing wrong.

    It is that of the one statement that tells most: several that hold for the same reason, a line
    that lies a little high, do not make it easier to see.
    """
    most = np.zeros(len(looks[AS_SET].lit))
    for one in statements:
        before = float(one.holds(usual, usual)[0])
        most = np.maximum(most, np.abs(one.holds(looks, usual) - before))
    return np.asarray(most)
