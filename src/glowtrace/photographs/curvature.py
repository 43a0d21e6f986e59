"""How the light of a picture curves: the second derivatives of it, smoothed."""

from __future__ import annotations

from math import sqrt
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Array = NDArray[np.float64]

_REACH: Final = 8.0
"""Standard deviations of a Gaussian that count: its derivatives die away slowly."""


class Curvature(NamedTuple):
    """Second derivatives (rows, columns) of a smoothed picture, per square pixel."""

    high: Array
    """The larger principal one: positive across a dark line."""
    low: Array
    """The smaller principal one: negative across a bright line."""
    down: Array
    """Down the rows, twice."""
    mixed: Array
    along: Array
    """Along a row, twice."""


def curvature(picture: Array, width: float) -> Curvature:
    """Give the curvature of a picture smoothed with a Gaussian of that standard deviation.

    Each second derivative is a first derivative twice, both with the width over the root of two:
    a sampled kernel of the second order does not sum to zero, and makes lines of an even picture.

    Parameters
    ----------
    picture
        (rows, columns) light, in any unit.
    width
        In pixels, above 1.
    """
    down_once = _slope(picture, width, (1, 0))
    along_once = _slope(picture, width, (0, 1))
    down = _slope(down_once, width, (1, 0))
    mixed = _slope(down_once, width, (0, 1))
    along = _slope(along_once, width, (0, 1))
    # The principal ones of a symmetric matrix of two rows.
    middle, apart = (down + along) / 2, np.hypot(mixed, (down - along) / 2)
    return Curvature(middle + apart, middle - apart, down, mixed, along)


def _slope(picture: Array, width: float, order: tuple[int, int]) -> Array:
    """First derivative (rows, columns) after half the smoothing."""
    slope: Array = ndimage.gaussian_filter(
        picture, width / sqrt(2), order=order, mode="nearest", truncate=_REACH
    )
    return slope
