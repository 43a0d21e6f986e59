"""The rough path of a line that has one v for each u: the brightest way through all columns.

The way with the most light over noise is found column by column (dynamic programming), which
follows a line through noise in which no single column shows it.

References
----------
A. Amini, T. Weymouth, R. Jain, "Using dynamic programming for solving variational problems in
vision", IEEE Trans. Pattern Anal. Mach. Intell. 12 (1990) 855-867.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from glowtrace.photographs.light import RectifiedScreen

Array = NDArray[np.float64]

_WIDTHS: Final = (1.5, 3.0, 6.0, 12.0)
"""Standard deviations in pixels that are tried."""
_STEEPEST: Final = 2.5
"""Largest slope of the line."""
_BRIGHT_ENOUGH: Final = 6.0
"""Light over noise, smoothed, that counts in full: brighter spots do not attract more."""
_TURNING: Final = 0.06
"""What a step of one pixel up or down costs."""


@dataclass(frozen=True, eq=False)
class RoughPath:
    """The brightest way through the columns."""

    rows: Array
    """(columns,) row in each column."""
    width: float
    """The width that was tried, in pixels."""
    contrast: float
    """Light over noise along the way, on average of its brighter half."""
    chance: float
    """The same for the darkest way: what noise alone gives."""


def rough_paths(screen: RectifiedScreen) -> tuple[RoughPath, ...]:
    """Give the brightest way through all columns of the screen, for each width that is tried."""
    widest = screen.light.shape[0] / 12
    return tuple(_with_width(screen, width) for width in _WIDTHS if width < widest)


def _with_width(screen: RectifiedScreen, width: float) -> RoughPath:
    side = max(1, screen.light.shape[1] // 300)
    smooth = ndimage.gaussian_filter(screen.light, width)
    # Less the light close by: room light that changes must not look like a line.
    smooth -= ndimage.gaussian_filter(screen.light, (4 * width, 4 * width))
    count = screen.light.shape[1] // side
    columns = smooth[:, : count * side].reshape(len(smooth), count, side).mean(axis=2)
    seen = screen.is_seen[:, : count * side].reshape(len(smooth), count, side).all(axis=2)
    noise = 1.4826 * float(np.median(np.abs(columns[seen] - np.median(columns[seen]))))
    clear = np.where(seen, columns / max(noise, 1e-12), 0.0)
    jump = max(1, math.ceil(_STEEPEST * side))
    rows = _brightest_way(np.clip(clear, -_BRIGHT_ENOUGH, _BRIGHT_ENOUGH), jump)
    dark = _brightest_way(np.clip(-clear, -_BRIGHT_ENOUGH, _BRIGHT_ENOUGH), jump)
    at = np.arange(count)
    middle = (at + 0.5) * side - 0.5
    whole = np.interp(np.arange(screen.light.shape[1]), middle, rows.astype(float))
    return RoughPath(
        ndimage.gaussian_filter1d(whole, 2.0 * side, mode="nearest"),
        width,
        _brighter_half(clear[rows, at]),
        _brighter_half(-clear[dark, at]),
    )


def _brighter_half(along: Array) -> float:
    return float(np.sort(along)[len(along) // 2 :].mean())


def _brightest_way(light: Array, jump: int) -> NDArray[np.int64]:
    """Rows (columns,) of the way with the largest sum that moves at most ``jump`` rows a column."""
    rows, columns = light.shape
    total = light[:, 0].copy()
    came = np.zeros((columns, rows), dtype=np.int16)
    moves = np.arange(-jump, jump + 1)
    cost = _TURNING * np.abs(moves)
    every = np.arange(rows)
    padded = np.full(rows + 2 * jump, -np.inf)
    reachable = np.lib.stride_tricks.sliding_window_view(padded, 2 * jump + 1)
    for column in range(1, columns):
        padded[jump:-jump] = total
        options = reachable - cost
        best = options.argmax(axis=1)
        came[column] = moves[best]
        total = options[every, best] + light[:, column]
    way = np.empty(columns, dtype=np.int64)
    way[-1] = int(total.argmax())
    for column in range(columns - 1, 0, -1):
        way[column - 1] = way[column] + came[column, way[column]]
    return way
