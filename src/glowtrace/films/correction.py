"""How a map has to change so that the printed lines lie where they are seen.

To first order a change of a projective map shifts a place (a, b) of the screen by

    da = t0 + t1 a + t2 b + t6 a^2 + t7 a b,   db = t3 + t4 a + t5 b + t6 a b + t7 b^2:

eight numbers, found by robust least squares from offsets of which each is along one direction. What
a hand does within a frame (shift, turn, come nearer, tilt) is known beforehand to its size, so that
few or poor pieces of line do not bend the map.

References
----------
R. Hartley, A. Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed., Cambridge 2004,
ch. 2.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.films.layout import Pieces
from glowtrace.photographs.grid import ScreenMap

Array = NDArray[np.float64]

_USUAL: Final = np.array([0.2, 0.02, 0.02, 0.2, 0.02, 0.02, 0.004, 0.004])
"""Standard deviations of the eight numbers from frame to frame, in units of half the screen."""
_FINEST: Final = 1e-5
"""Least scatter of the offsets in m that is reckoned with."""
_ROUNDS: Final = 6
_FEWEST: Final = 6
"""Pieces from which a map is changed at all."""


class Correction(NamedTuple):
    """A changed map, and how well the pieces of line fit to it."""

    screen_map: ScreenMap
    fits: NDArray[np.bool_]
    """(p,) which pieces lie where they should then."""
    scatter: float
    """Standard deviation of the offsets that are left, m."""
    moved: float
    """How far the map moved at most, m."""


def corrected(
    screen_map: ScreenMap, pieces: Pieces, used: NDArray[np.bool_], offset: Array
) -> Correction:
    """Change a map so that pieces that are seen at offsets (p,) in m lie at their places.

    Fewer than `_FEWEST` pieces change nothing, and none is then said to fit.

    Parameters
    ----------
    screen_map
        Through which the offsets were measured.
    pieces
        Of printed lines.
    used
        (p,) which of them are seen.
    offset
        (p,) m, across each piece.
    """
    fits = np.zeros(len(used), dtype=bool)
    if used.sum() < _FEWEST:
        return Correction(screen_map, fits, 0.0, 0.0)
    u0, v0, u1, v1 = screen_map.rectangle
    middle, half = ((u0 + u1) / 2, (v0 + v1) / 2), (u1 - u0) / 2
    a, b = (pieces.u[used] - middle[0]) / half, (pieces.v[used] - middle[1]) / half
    off = offset[used] / half
    is_u = (pieces.axis[used] == 0)[:, None]
    one, no = np.ones_like(a), np.zeros_like(a)
    terms = np.where(
        is_u,
        np.column_stack([one, a, b, no, no, no, a * a, a * b]),
        np.column_stack([no, no, no, one, a, b, a * b, b * b]),
    )
    numbers: Array = np.zeros(8)
    weight: Array = np.ones(len(off))
    scatter = 1e-4 / half
    for _ in range(_ROUNDS):
        weighted = terms.T * weight
        prior = np.diag((scatter / _USUAL) ** 2)
        numbers = np.asarray(np.linalg.solve(weighted @ terms + prior, weighted @ off), float)
        rest = np.abs(off - terms @ numbers)
        scatter = max(1.4826 * float(np.median(rest)), _FINEST / half)
        weight = np.minimum(1.0, 2 * scatter / np.maximum(rest, 1e-12)) * (rest < 6 * scatter)
    fits[np.flatnonzero(used)[weight > 0]] = True
    return Correction(
        _changed(screen_map, numbers, middle, half),
        fits,
        half * scatter,
        half * float(np.abs(terms @ numbers).max(initial=0.0)),
    )


def _changed(
    screen_map: ScreenMap, numbers: Array, middle: tuple[float, float], half: float
) -> ScreenMap:
    """Give the map through which place p is seen where p + shift(p) was."""
    t = numbers
    near = np.array([[1 + t[1], t[2], t[0]], [t[4], 1 + t[5], t[3]], [-t[6], -t[7], 1.0]])
    # From the map's own units of length to those of the eight numbers.
    share = screen_map.spread / half
    shift = (np.array(screen_map.origin) - middle) / half
    into = np.array([[share, 0, shift[0]], [0, share, shift[1]], [0, 0, 1.0]])
    return _followed_by(screen_map, np.linalg.inv(into) @ near @ into)


def shifted(screen_map: ScreenMap, du: float, dv: float) -> ScreenMap:
    """Give the map through which place p is seen where p + (du, dv), in m, was."""
    by = np.array([du, dv]) / screen_map.spread
    return _followed_by(screen_map, np.array([[1, 0, by[0]], [0, 1, by[1]], [0, 0, 1.0]]))


def in_units_of(screen_map: ScreenMap, other: ScreenMap) -> ScreenMap:
    """Give the same map, told in the units of another one."""
    share = other.spread / screen_map.spread
    shift = (np.array(other.origin) - screen_map.origin) / screen_map.spread
    into = np.array([[share, 0, shift[0]], [0, share, shift[1]], [0, 0, 1.0]])
    parameters = _followed_by(screen_map, into).parameters
    return replace(other, parameters=parameters)


def _followed_by(screen_map: ScreenMap, change: Array) -> ScreenMap:
    matrix = np.append(screen_map.parameters[:8], 1.0).reshape(3, 3) @ change
    parameters = screen_map.parameters.copy()
    parameters[:8] = (matrix / matrix[2, 2]).ravel()[:8]
    return replace(screen_map, parameters=parameters)
