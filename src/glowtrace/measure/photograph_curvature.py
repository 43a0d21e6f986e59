"""How the light of a picture curves: the second derivatives of it, smoothed."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


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
    """Give the curvature of a picture smoothed with a Gaussian of that standard deviation."""
    from skimage.feature import hessian_matrix, hessian_matrix_eigvals

    down, mixed, along = hessian_matrix(  # type: ignore[no-untyped-call]
        picture, sigma=width, order="rc", mode="nearest", use_gaussian_derivatives=True
    )
    high, low = hessian_matrix_eigvals([down, mixed, along])  # type: ignore[no-untyped-call]
    return Curvature(high, low, down, mixed, along)
