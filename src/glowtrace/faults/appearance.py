"""What one would see: the light of the heater, the line or the spot, and the meters."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LINE_POINTS = 24
"""Points by which a line is kept, at equal distances along it."""


@dataclass(frozen=True)
class Appearance:
    """The picture of one condition, in few numbers; lengths in m.

    Attributes
    ----------
    is_lit
        Whether a line or a spot is there.
    line
        (k, 2): u and v of its middle along the path, k being 0 when dark and 1 for a spot.
    lift
        Height of the line's middle at the place where it is read; nan where there is none.
    width
        Half width of the line (two thirds of the light lie within), or radius of the spot's edge.
    far_width
        The half width at the far end of the line.
    brightness
        Light of the line as a fraction of the usual: beam current, and on a phosphor screen the
        electrons' energy too.
    creep
        How far the picture moves by itself within minutes, as charge gathers.
    kind
        What kind of picture it is, one of `glowtrace.demos.classification.KINDS`.
    aside
        How far a line in gas leaves the plane of the picture, towards the onlooker or away.
    stretch
        How much longer a spot is than wide.
    filament, haze, flickers, meter_high_tension, meter_coils, meter_plates, is_misread
        As in `Condition`.
    """

    is_lit: bool
    line: Array
    lift: float
    width: float
    far_width: float
    brightness: float
    kind: str = "no beam"
    aside: float = 0.0
    stretch: float = 1.0
    filament: float = 1.0
    haze: float = 0.0
    flickers: bool = False
    creep: float = 0.0
    meter_high_tension: float = 1.0
    meter_coils: float = 1.0
    meter_plates: float = 1.0
    is_misread: bool = False


def spaced_evenly(points: Array, count: int = LINE_POINTS) -> Array:
    """Give ``count`` points at equal distances along a line (k, 2); nan where it has none."""
    if len(points) == 0:
        return np.full((count, 2), np.nan)
    along = path_length(points)
    if len(points) == 1 or along[-1] == 0.0:
        return np.repeat(points[:1], count, axis=0)
    wanted = np.linspace(0.0, along[-1], count)
    return np.stack([np.interp(wanted, along, points[:, n]) for n in range(2)], axis=1)


def path_length(points: Array) -> Array:
    """Give the distance (k,) along a line (k, 2) from its first point."""
    steps = np.hypot(*np.diff(points, axis=0).T) if len(points) > 1 else np.zeros(0)
    return np.concatenate([[0.0], np.cumsum(steps)])


def lift_at(points: Array, distance: float) -> float:
    """Give the height of a line at a distance along it; a line that ends early goes on straight."""
    if len(points) == 0:
        return math.nan
    along = path_length(points)
    if len(points) > 1 and along[-1] < distance:
        step = points[-1] - points[-2]
        slope = step[1] / max(float(np.hypot(*step)), 1e-9)
        return float(points[-1, 1] + slope * (distance - along[-1]))
    return float(np.interp(distance, along, points[:, 1]))
