"""Points of a screen's grid in a photograph, as somebody clicked them or as they were found."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.photographs.photograph import PhotographError
from glowtrace.units import parse_quantity

Array = NDArray[np.float64]

CLICK_UNCERTAINTY: Final = 1.5
"""Standard uncertainty of a click along each direction, in pixels of the photograph."""
_FLATTEST: Final = 1e-3
"""Smallest area of a triangle of four corners, relative to the square of the points' extent."""


@dataclass(frozen=True)
class GridPoint:
    """A place on the screen, and where it is seen in the photograph."""

    u: float
    """m."""
    v: float
    """m."""
    column: float
    row: float
    uncertainty: float = CLICK_UNCERTAINTY
    """Standard uncertainty along each direction in pixels."""


def grid_point(text: str) -> GridPoint:
    """Read a crossing and the pixel at which it is seen: "20 mm, -10 mm = 812, 1433".

    Raises
    ------
    ValueError
        It is not written so.
    QuantityError
        A place is no length.
    """
    place, _, pixel = text.partition("=")
    (u, v), (column, row) = place.split(","), map(float, pixel.split(","))
    return GridPoint(parse_quantity(u, "m"), parse_quantity(v, "m"), column, row)


def require_sound(places: Array, clicks: Array, sigma: Array) -> None:
    """Refuse places (n, 2), clicks (n, 2) and uncertainties (n,) that cannot fix a map.

    Raises
    ------
    PhotographError
        If a number is missing, two points are the same, or no four of them have three out of line.
    """
    for name, values in (("place on the screen", places), ("click", clicks)):
        if not np.all(np.isfinite(values)):
            raise PhotographError(f"a {name} is not a number; give finite numbers")
        if len(np.unique(values, axis=0)) < len(values):
            raise PhotographError(f"two grid points have the same {name}; click different points")
        centred = values - values.mean(axis=0)
        sizes = np.linalg.svd(centred, compute_uv=False)
        if sizes[1] < 0.02 * sizes[0] or not _has_four_corners(values):
            allowed = "click four points of which no three lie in a line"
            raise PhotographError(f"the grid points lie (nearly) in a line; {allowed}")
    if not np.all((sigma > 0) & np.isfinite(sigma)):
        raise PhotographError("the uncertainty of a click is not allowed; give more than 0 pixels")


def _has_four_corners(values: Array) -> bool:
    """Say whether some four points span the plane with no three in line."""
    scale = float(np.ptp(values, axis=0).max()) ** 2
    chosen = values[_extremes(values)] if len(values) > 12 else values
    for four in combinations(range(len(chosen)), 4):
        areas = [abs(_area(chosen[list(three)])) for three in combinations(four, 3)]
        if min(areas) > _FLATTEST * scale:
            return True
    return False


def _extremes(values: Array) -> list[int]:
    """Positions of the points furthest out in twelve directions."""
    angles = np.linspace(0.0, 2 * math.pi, 12, endpoint=False)
    outward = values @ np.array([np.cos(angles), np.sin(angles)])
    return sorted(set(outward.argmax(axis=0).tolist()))


def _area(three: Array) -> float:
    (ax, ay), (bx, by) = three[1] - three[0], three[2] - three[0]
    return float(ax * by - ay * bx) / 2.0
