"""How far each input of the light model is believed: a factor both ways, and why.

A value within a factor f is taken as log-normal: its logarithm has a normal distribution whose
95 % range is from value / f to value x f.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_SIGMAS: Final = 1.959964
"""Standard deviations from the middle to the end of a 95 % range."""
DRAWS: Final = 4096
_SEED: Final = 20


@dataclass(frozen=True)
class Trust:
    """Within what factor an input is believed; where the value is from, is told by its key."""

    key: str
    factor: float


TRUSTS: Final[Mapping[str, Trust]] = MappingProxyType(
    {
        key: Trust(key, factor)
        for key, factor in (
            ("current", 1.5),
            ("beam_share", 4.0),
            ("efficiency", 2.5),
            ("dead_voltage", 2.0),
            ("saturation", 3.0),
            ("spectrum", 1.25),
            ("outward", 1.5),
            ("gas", 4.0),
            ("room", 2.5),
            ("room_measured", 1.2),
            ("reflectance", 1.3),
            ("mirror", 2.5),
            ("escape", 5.0),
            ("eye", 1.6),
            ("ease", 2.0),
            ("sensor", 2.0),
        )
    }
)
"""Every uncertain input, by a short key."""


class Draws:
    """Values of the uncertain inputs: all at their middle, or drawn.

    Parameters
    ----------
    count
        How many sets; 1 gives the middle of every input. Drawn sets are the same at every call,
        so that a result moves smoothly when an input does.
    only
        Keys to draw; the others stay at their middle. All when left out.
    """

    def __init__(self, count: int = 1, only: frozenset[str] | None = None) -> None:
        self.count = count
        generator = np.random.default_rng(_SEED)
        self._factors: dict[str, Array] = {}
        for key, trust in TRUSTS.items():
            normal = generator.standard_normal(count)
            if count == 1 or (only is not None and key not in only):
                normal = np.zeros(count)
            self._factors[key] = np.exp(normal * np.log(trust.factor) / _SIGMAS)

    def around(self, key: str, value: float, most: float = np.inf) -> Array:
        """Give values (count,) of an input around the one given, none above ``most``."""
        return np.minimum(value * self._factors[key], most)


MIDDLE: Final = Draws()
"""Every input at its middle."""


def factor_of(values: Array) -> float:
    """Give the factor f for which 95 % of values lie from middle / f to middle x f.

    Values of zero count as far out; where more than a few are, no factor tells it: infinite.
    """
    middle = float(np.median(values))
    if middle <= 0.0:
        return float("inf")
    with np.errstate(divide="ignore"):
        off = np.abs(np.log(values / middle))
    return float(np.exp(np.quantile(off, 0.95, method="higher")))
