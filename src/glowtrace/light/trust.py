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
    """Within what factor an input is believed, and where the value is from."""

    name: str
    factor: float
    why: str


_MEMORY: Final = "from memory; no open source with numbers was read"
_GUESS: Final = "a guess, no source"

TRUSTS: Final[Mapping[str, Trust]] = MappingProxyType({
    "current": Trust("beam current", 1.5, "the bench tells a typical one; read the meter"),
    "beam_share": Trust("share of it in the beam", 4.0, f"depends on the gun; {_GUESS}"),
    "efficiency": Trust("efficiency of the phosphor", 2.5, _MEMORY),
    "dead_voltage": Trust("voltage lost in the dead layer", 2.0, _GUESS),
    "saturation": Trust("saturation of the phosphor", 3.0, _GUESS),
    "spectrum": Trust("lumens per watt of its light", 1.25,
                      "from peak and breadth of the spectrum; the peak from memory"),
    "outward": Trust("share of the light that leaves on the audience's side", 1.5, _GUESS),
    "gas": Trust("light of the gas per metre of path", 4.0, _GUESS),
    "room": Trust("room light at the screen", 2.5, "as rooms of this kind differ"),
    "room_measured": Trust("room light at the screen", 1.2, "measured with a light meter"),
    "reflectance": Trust("reflectance of the screen or backdrop", 1.3, _GUESS),
    "mirror": Trust("mirror image of the room in the glass", 2.5, _GUESS),
    "escape": Trust("share of the heater's glow that gets out of the gun", 5.0, _GUESS),
    "eye": Trust("threshold of the eye", 1.6,
                 "observers differ; model of Adrian (1989), from memory"),
    "ease": Trust("factor over the threshold for a class to see it at ease", 2.0,
                  "practice of visibility levels, from memory"),
    "sensor": Trust("full well of the camera's pixels", 2.0, _MEMORY),
})  # fmt: skip
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
