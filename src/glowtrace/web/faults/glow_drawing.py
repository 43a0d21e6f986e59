"""The light of a line or a spot as two paths: its middle, and how far it reaches to the sides."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.faults import Appearance

Array = NDArray[np.float64]

THINNEST_MM: Final = 0.5
"""Half width below which a line is drawn no thinner."""
WIDEST_MM: Final = 4.0
"""Half width from which light is spread so far that its middle is nothing to be seen."""


class Glow(NamedTuple):
    """Path data in mm of the screen; both empty where it is dark."""

    middle: str = ""
    band: str = ""


def glow_of(appearance: Appearance | None) -> Glow:
    """Give what is drawn for an appearance."""
    if appearance is None or not appearance.is_lit:
        return Glow()
    points = 1e3 * appearance.line
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) == 0:
        return Glow()
    half, far = (_half(width) for width in (appearance.width, appearance.far_width))
    if len(points) == 1 or np.ptp(points, axis=0).max() < 1e-3:
        return _spot(points[0], half)
    line = "M" + "L".join(f"{u:.2f} {v:.2f}" for u, v in points)
    return Glow(line if half < WIDEST_MM else "", _band(points, half, far))


def _half(width: float) -> float:
    """Give a half width (m) in mm, as it is drawn."""
    return max(THINNEST_MM, 1e3 * width) if math.isfinite(width) else THINNEST_MM


def _spot(middle: Array, radius: float) -> Glow:
    u, v = middle
    round_it = f"a{radius:.2f} {radius:.2f} 0 1 0"
    ring = f"M{u - radius:.2f} {v:.2f}{round_it} {2 * radius:.2f} 0{round_it} {-2 * radius:.2f} 0Z"
    return Glow(f"M{u:.2f} {v:.2f}h0", ring)


def _band(points: Array, half: float, far: float) -> str:
    """Give the outline of a line whose half width is `half` at its middle and `far` at its end."""
    share = np.linspace(0.0, 1.0, len(points))
    reach = np.maximum(THINNEST_MM, far + (half - far) * (1.0 - share) / 0.5)
    along = np.gradient(points, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    sideways = reach[:, None] * np.column_stack([-along[:, 1], along[:, 0]])
    outline = np.concatenate([points + sideways, (points - sideways)[::-1]])
    return "M" + "L".join(f"{u:.2f} {v:.2f}" for u, v in outline) + "Z"
