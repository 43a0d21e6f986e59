"""Where the corners of a printed grid may be: which straight lines could be its outermost ones."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.photographs.grid_lines import PrintedGrid

Array = NDArray[np.float64]

_BEYOND: Final = 0.25
"""How far outside the photograph, relative to its size, a corner of the grid may be."""


def corner_choices(
    upright: list[Array],
    level: list[Array],
    count_u: int,
    count_v: int,
    size: tuple[int, ...],
) -> Array:
    """Corners (n, 4, 2) in the order of `corner_places`, for each choice of outermost lines.

    Choices with a corner far outside the photograph of that size (rows, columns) are left out.
    """

    def pairs(lines: list[Array], count: int) -> list[tuple[int, int]]:
        fewest = max(2, math.ceil(0.5 * count)) - 1
        numbers = itertools.combinations(range(len(lines)), 2)
        return [(i, j) for i, j in numbers if j - i >= fewest]

    met = _meetings(np.array(upright), np.array(level))
    # Rows count downwards, v upwards: the first printed line along u is the lowest one.
    found = np.array(
        [
            [met[left, bottom], met[right, bottom], met[left, top], met[right, top]]
            for (left, right), (top, bottom) in itertools.product(
                pairs(upright, count_u), pairs(level, count_v)
            )
        ]
    ).reshape(-1, 4, 2)
    room = np.array(size[::-1], dtype=float)
    inside = (found > -_BEYOND * room) & (found < (1 + _BEYOND) * room)  # also none that is NaN
    kept: Array = found[inside.all(axis=(1, 2))]
    return kept


def corner_places(grid: PrintedGrid) -> Iterator[Array]:
    """Places (4, 2) in m that four chosen corners may be: of the printed lines, or of the screen.

    The edge of a screen is often its clearest line, and hides a printed one beside it.
    """
    u0, v0, u1, v1 = grid.rectangle
    for left, right in ((grid.u[0], grid.u[-1]), (u0, u1)):
        for low, high in ((grid.v[0], grid.v[-1]), (v0, v1)):
            yield np.array([(u, v) for v in (low, high) for u in (left, right)])


def _meetings(upright: Array, level: Array) -> Array:
    """Where upright lines (m, 3) meet level ones (n, 3), as (m, n, 2); NaN for parallel ones."""
    (a, b, c), (d, e, f) = upright.T[:, :, None], level.T[:, None, :]
    determinant = a * e - b * d
    whole = np.where(np.abs(determinant) < 1e-6, np.nan, determinant)
    met: Array = np.stack([c * e - b * f, a * f - c * d], axis=-1) / whole[..., None]
    return met
