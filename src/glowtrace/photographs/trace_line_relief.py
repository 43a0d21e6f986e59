"""Ridges of light in a picture: how high they stand over the noise, and which way they run."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from glowtrace.photographs.curvature import curvature
from glowtrace.photographs.light import Mask

Array = NDArray[np.float64]

_WIDTHS: Final = (1.3, 2.2, 3.6, 6.0)
"""Standard deviations that are tried, in pixels."""


@dataclass(frozen=True, eq=False)
class Relief:
    """Ridges of a picture: how high, and how they run."""

    height: Array
    """(rows, columns) over noise; 0 where there is none."""
    run: Array
    """(2, rows, columns) cosine and sine of twice the angle along the ridge, times the height."""
    width: float
    """Standard deviation of the line, in pixels."""


def best_relief(light: Array, seen: Mask) -> Relief:
    """Give the relief at the width at which the highest ridges stand out most."""
    reliefs = [relief_of(light, seen, width) for width in _WIDTHS if width < min(light.shape) / 12]
    return max(reliefs, key=lambda each: float(np.quantile(each.height, 0.995)))


def relief_of(light: Array, seen: Mask, width: float) -> Relief:
    """Give the ridges of light (rows, columns), where it is seen, at one width in pixels."""
    high, low, rr, rc, cc = curvature(light, width)
    inside = ndimage.binary_erosion(seen, iterations=math.ceil(2 * width), border_value=1)
    # Spots fall off along as well as across: only what falls off across more counts.
    ridge = np.where(inside, np.clip(-low - np.abs(high), 0.0, None), 0.0)
    noise = 1.4826 * float(np.median(np.abs(low[inside] - np.median(low[inside]))))
    height = ridge / max(noise, 1e-12)
    # The largest curvature lies across; twice the angle along is opposite to twice that across.
    double = np.stack([cc - rr, 2 * rc])
    length = np.maximum(np.hypot(*double), 1e-30)
    return Relief(height, double / length * height, width)


def sampled(images: Array, at: Array) -> Array:
    """Values (c,) of images (c, rows, columns) between pixels; 0 outside."""
    column, row = float(at[0]), float(at[1])
    _, rows, columns = images.shape
    if not (0 <= column < columns - 1 and 0 <= row < rows - 1):
        return np.zeros(len(images))
    c, r = int(column), int(row)
    x, y = column - c, row - r
    four = images[:, r : r + 2, c : c + 2]
    value: Array = (1 - y) * ((1 - x) * four[:, 0, 0] + x * four[:, 0, 1]) + y * (
        (1 - x) * four[:, 1, 0] + x * four[:, 1, 1]
    )
    return value
