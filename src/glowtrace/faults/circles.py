"""The circle of a line in gas: where it is, how large, and how far the line strays from it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_STRAIGHT = 1e-6
"""Spread of points in one direction, as a part of that in the other, from which they are on no
circle but on a straight line."""
_STRAIGHT_RADIUS = 1e3
"""m, of a straight line."""


class Circles(NamedTuple):
    """Circles through n lines; nan where there is no line."""

    centre: Array
    """(n, 2) m."""
    radius: Array
    """(n,) m."""
    stray: Array
    """(n,) m, root mean square distance of the points from the circle."""


def circles(lines: Array) -> Circles:
    """Fit circles to lines (n, k, 2) in m by least squares of the distances' squares.

    References
    ----------
    I. Kåsa, "A circle fitting procedure and its error analysis", IEEE Trans. Instrum. Meas. 25
    (1976) 8-14 (from memory).
    """
    middle = lines.mean(axis=1, keepdims=True)
    away = lines - middle
    square = (away**2).sum(axis=2)
    u, v = away[..., 0], away[..., 1]
    uu, uv, vv = ((a * b).mean(axis=1) for a, b in ((u, u), (u, v), (v, v)))
    pull_u, pull_v = ((square * a).mean(axis=1) / 2.0 for a in (u, v))
    spread, least = uu * vv - uv**2, _STRAIGHT * (uu + vv) ** 2 + 1e-30
    own = np.stack([vv * pull_u - uv * pull_v, uu * pull_v - uv * pull_u], axis=1)
    own /= np.maximum(spread, least)[:, None]
    radius = np.sqrt((own**2).sum(axis=1) + uu + vv)
    off = np.linalg.norm(away - own[:, None], axis=2) - radius[:, None]
    stray = np.sqrt((off**2).mean(axis=1))
    is_straight = spread < least
    return Circles(
        middle[:, 0] + own,
        np.where(is_straight, _STRAIGHT_RADIUS, radius),
        np.where(is_straight, 0.0, stray),
    )
