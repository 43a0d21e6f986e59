"""Reweighting of rows that lie far out, so that one slip does not carry the result away.

References
----------
P. J. Huber, "Robust Statistics", Wiley 1981. K. L. Lange, R. J. A. Little, J. M. G. Taylor,
"Robust statistical modeling using the t distribution", J. Am. Stat. Assoc. 84 (1989) 881-896.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special

Array = NDArray[np.float64]
Robust = Literal["none", "huber", "student"]
"""How rows far out are treated: as all others, or with a weight that falls with the distance."""

_HUBER: Final = 1.345
"""Distance in standard uncertainties from which Huber's weight falls: 95 % efficient."""
_FREEDOM: Final = 4.0
"""Degrees of freedom of Student's distribution that the residuals are taken to have."""


def row_weights(residuals: Array, is_present: NDArray[np.bool_], robust: Robust) -> Array:
    """Weights (r,) of rows from their whitened residuals (r, c)."""
    if robust == "none":
        return np.ones(len(residuals))
    count = is_present.sum(axis=1)
    # Rows with two conditions are as far out as one residual of the same chance.
    distance = np.sqrt((residuals**2).sum(axis=1) / np.maximum(count, 1))
    return _weight(distance, robust)


def outlying_rows(residuals: Array, is_present: NDArray[np.bool_], rows: int) -> tuple[int, ...]:
    """Rows further out than chance explains in one of 20 tables of so many rows."""
    count = np.maximum(is_present.sum(axis=1), 1)
    chance = special.chdtrc(count, (residuals**2).sum(axis=1))
    return tuple(int(n) for n in np.flatnonzero(chance < 0.05 / max(rows, 1)))


def variance_factors(residuals: Sequence[Array], robust: Robust) -> tuple[float, float]:
    """Mean slope and mean square of the reweighted residual, for the covariance of the estimate.

    Taken from the residuals themselves (all present ones, flat arrays), but never better than for
    readings that scatter as stated.
    """
    if robust == "none":
        return 1.0, 1.0
    z = np.concatenate([np.ravel(each) for each in residuals])
    slope, square = float(np.mean(_slope(z, robust))), float(np.mean(_influence(z, robust) ** 2))
    ideal_slope, ideal_square = _ideal_factors(robust)
    if slope <= 0 or square / slope**2 < ideal_square / ideal_slope**2:
        return ideal_slope, ideal_square
    return slope, square


def _weight(z: Array, robust: Robust) -> Array:
    distance = np.abs(z)
    if robust == "huber":
        return np.minimum(1.0, _HUBER / np.maximum(distance, _HUBER))
    weight: Array = (_FREEDOM + 1) / (_FREEDOM + distance**2)
    return weight


def _influence(z: Array, robust: Robust) -> Array:
    return z * _weight(z, robust)


def _slope(z: Array, robust: Robust) -> Array:
    if robust == "huber":
        return (np.abs(z) <= _HUBER).astype(float)
    slope: Array = (_FREEDOM + 1) * (_FREEDOM - z**2) / (_FREEDOM + z**2) ** 2
    return slope


@cache
def _ideal_factors(robust: Robust) -> tuple[float, float]:
    """Give the two means for residuals that are standard normal."""
    z = np.linspace(-10.0, 10.0, 4001)
    density = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    return (
        float(np.trapezoid(density * _slope(z, robust), z)),
        float(np.trapezoid(density * _influence(z, robust) ** 2, z)),
    )
