"""Looking for a screen near where it was, after the camera was pushed.

The printed lines look alike a square further on, so the border of the screen decides among the
places at which they fit.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.films.correction import shifted
from glowtrace.films.layout import Layout
from glowtrace.films.square_on import Grey, Light, square_on
from glowtrace.photographs.grid import ScreenMap

Array = NDArray[np.float64]

_PIXEL: Final = 0.04
"""Side of a pixel in which is searched, in pitches."""
_FURTHEST: Final = 1.6
"""How far is searched each way, in pitches."""
_BORDER: Final = 1.5
"""How much the border counts beside the printed lines."""


def nearby_maps(
    grey: Grey, screen_map: ScreenMap, layout: Layout, curve: Light, darker: float, border: Array
) -> tuple[ScreenMap, ...]:
    """Give the map moved to the places at which the screen may be now, the likeliest first.

    Parameters
    ----------
    grey, curve
        Of the frame, and the light of its grey.
    screen_map, layout
        Where the screen was.
    darker
        -1 where the printed lines are brighter than the paper.
    border
        (4,) usual steps of light at left, right, bottom and top; 0 where none is seen.
    """
    side = _PIXEL * layout.grid.pitch
    margin = round(1.25 * _FURTHEST / _PIXEL)
    light = square_on(grey, screen_map, layout, curve, margin=margin, pixel=side)
    score = _score(light.astype(np.float64), layout, side, margin, darker, border)
    reach = score.shape[0] // 2
    chosen = []
    for _ in range(2):
        row, column = np.unravel_index(int(score.argmax()), score.shape)
        chosen.append(shifted(screen_map, (column - reach) * side, (row - reach) * side))
        low, high = max(0, row - 6), row + 7
        score[low:high, max(0, column - 6) : column + 7] = -np.inf
    return tuple(chosen)


def _score(
    light: Array, layout: Layout, side: float, margin: int, darker: float, border: Array
) -> Array:
    """Say how well lines and border fit (shift in v, shift in u)."""
    u0, v0, u1, v1 = layout.grid.rectangle
    total: Array = np.zeros(())
    for is_upright in (True, False):
        picture = light if is_upright else light.T
        lines, low, high = (layout.grid.u, u0, u1) if is_upright else (layout.grid.v, v0, v1)
        first, last = (v0, v1) if is_upright else (u0, u1)
        usual = border[:2] if is_upright else border[2:]
        dark, step = _line_relief(picture, darker), _step_relief(picture)
        at = [(line - low) / side for line in lines]
        fit = np.mean([_along(dark, a, (last - first) / side, margin) for a in at], axis=0)
        spread = float(np.median(np.abs(fit - np.median(fit)))) + 1e-9
        own = fit / spread
        ends = ((1.0, 0.0), (-1.0, (high - low) / side))  # inwards, and where
        for value, (inwards, where) in zip(usual, ends, strict=True):
            if value:
                edge = np.sign(value) * inwards
                edge = edge * _along(step, where, (last - first) / side, margin)
                clear = float(np.median(np.abs(edge - np.median(edge)))) + 1e-9
                own = own + _BORDER * np.minimum(edge / clear, 3 * fit.max() / spread)
        total = total + (own if is_upright else own.T)
    return total


def _along(relief: Array, across: float, length: float, margin: int) -> Array:
    """Mean along a line at every shift: (shift along, shift across)."""
    reach = round(_FURTHEST / _PIXEL)
    sums = np.cumsum(np.pad(relief, ((1, 0), (0, 0))), axis=0)
    rows, middle = round(length), round(margin + across - 0.5)
    shifts = np.arange(-reach, reach + 1)
    start = margin + shifts
    block = sums[start + rows][:, middle + shifts] - sums[start][:, middle + shifts]
    mean: Array = block / rows
    return mean


def _line_relief(picture: Array, darker: float) -> Array:
    """How much darker a column is than two columns further on at both sides, relative."""
    sides = np.minimum(np.roll(picture, 3, axis=1), np.roll(picture, -3, axis=1))
    if darker < 0:
        sides = np.maximum(np.roll(picture, 3, axis=1), np.roll(picture, -3, axis=1))
    core = (picture + 0.5 * (np.roll(picture, 1, axis=1) + np.roll(picture, -1, axis=1))) / 2
    relief: Array = np.clip(darker * (sides - core) / np.maximum(sides + core, 1e-6), 0.0, 0.3)
    return relief


def _step_relief(picture: Array) -> Array:
    """How much brighter the next few columns are than the last few, relative."""
    sums = np.cumsum(np.pad(picture, ((0, 0), (5, 4)), mode="edge"), axis=1)
    before, behind = sums[:, 4:-5] - sums[:, :-9], sums[:, 8:-1] - sums[:, 4:-5]
    relief: Array = (behind - before) / np.maximum(behind + before, 1e-6)
    return relief
