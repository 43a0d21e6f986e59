"""What glows in a camera's picture, as the page tells it, and how it compares with the computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.computed_line import ComputedLine
from glowtrace.bench.prediction import Prediction
from glowtrace.web.camera.comparison import compare, comparison_words, handed, in_mm
from glowtrace.web.camera.shape_comparison import Words, curve_words, spot_words

Array = NDArray[np.float64]

SEEN: Final = {"line": "line", "path": "glow", "spot": "spot"}
"""What a screen shows, in a word."""


@dataclass(frozen=True, eq=False)
class GlowSeen:
    """A line, a curve or a spot that was read; lengths in m."""

    shape: str
    """"line" along a sheet, "curve" of any shape, "spot", or none."""
    places: Array
    """(n, 2) u and v; of a spot its middle."""
    radius: float = 0.0
    """Of a spot."""
    rate: float = 0.0
    """Readings a second, where they are fewer than pictures."""

    def __len__(self) -> int:
        return len(self.places)

    @property
    def handed(self) -> tuple[tuple[float, float], ...]:
        """A few places (u, v) in mm, as a drawn line has them; of a spot its middle and edge."""
        if self.shape == "spot" and len(self):
            return in_mm(np.stack([self.places[0], self.places[0] + np.array([self.radius, 0.0])]))
        return handed(self.places)


NOTHING_SEEN: Final = GlowSeen("", np.empty((0, 2)))


def seen_of(told: Mapping[str, Any], way: Array) -> GlowSeen:
    """Give what the page told in mm; ValueError or TypeError where it makes no sense.

    Parameters
    ----------
    told
        As camera.js has it.
    way
        (2,) -1 for what is seen the other way round than it is counted.

    Examples
    --------
    >>> told = {"shape": "line", "u": [1.0, 2.0], "v": [None, 3.0]}
    >>> seen_of(told, np.array([-1.0, 1.0])).places.tolist()
    [[-0.002, 0.003]]
    """
    pairs = [
        (float(u), float(v))
        for u, v in zip(told.get("u") or (), told.get("v") or (), strict=True)
        if u is not None and v is not None
    ]
    places = 1e-3 * np.array(pairs, dtype=float).reshape(-1, 2) * way
    radius = [1e-3 * float(each) for each in told.get("radius") or ()]
    rate = float(told.get("rate") or 0.0)
    if not np.isfinite([*places.ravel(), *radius, rate]).all():
        raise ValueError("no numbers")
    shape = str(told.get("shape") or "")
    if shape == "spot" and len(radius) != len(places):
        raise ValueError("a spot has a size")
    return GlowSeen(shape, places, radius[0] if radius else 0.0, rate)


def compared(seen: GlowSeen, computed: ComputedLine, prediction: Prediction | None) -> Words:
    """Say how far what is seen is from what is computed, and what that means."""
    if not len(seen):
        return "", ""
    if seen.shape == "spot":
        return spot_words(seen.places[0], seen.radius, computed, prediction)
    if seen.shape == "curve":
        return curve_words(seen.places, computed, prediction)
    if not computed.is_rising:
        return "", "No line is computed." if not len(computed.first_piece) else ""
    found = compare(seen.places, computed, prediction)
    return ("", "") if found is None else comparison_words(found)
