"""A screen as it is seen square on: its light, resampled from the grey of a frame."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.compiled import compiled
from glowtrace.films.layout import Layout
from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.photograph import linear_light

Grey = NDArray[np.uint8]
"""(rows, columns): the luma of a frame as it is stored."""
Light = NDArray[np.float32]
Array = NDArray[np.float64]

FULL_RANGE: Final = linear_light(np.arange(256, dtype=np.uint8))
"""Light (256,) of stored grey where black is 0 and white 255, as in JPEG."""
_SHARE = np.clip((np.arange(256) - 16) / 219, 0.0, 1.0)
VIDEO_RANGE: Final = np.interp(255 * _SHARE, np.arange(256), FULL_RANGE).astype(np.float32)
"""Light (256,) of stored grey where black is 16 and white 235, as in most films (ITU-R BT.709)."""

_BLOCK: Final = 8
"""Pixels between places at which the map is asked."""
_FINER: Final = 1.8
"""Pixels of the frame along one of the screen from which these are averages."""


def square_on(
    grey: Grey,
    screen_map: ScreenMap,
    layout: Layout,
    curve: Light = FULL_RANGE,
    *,
    margin: int | None = None,
    pixel: float | None = None,
) -> Light:
    """Give the light of a screen in the pixels of its layout.

    Parameters
    ----------
    grey
        Of a frame.
    screen_map
        Where the screen is in it.
    layout
        Of the screen.
    curve
        Light of each stored grey.
    margin, pixel
        Pixels beside the screen, and their side in m, where others than the layout's are wanted.
    """
    side = pixel or layout.pixel
    u0, v0, u1, v1 = layout.grid.rectangle
    shape, (u, v) = layout.shape, layout.lowest
    if margin is not None:
        shape = (round((v1 - v0) / side) + 2 * margin, round((u1 - u0) / side) + 2 * margin)
        u, v = u0 - (margin - 0.5) * side, v0 - (margin - 0.5) * side
    out = np.empty(shape, np.float32)
    (ou, ov), spread = screen_map.origin, screen_map.spread
    start = np.array([(u - ou) / spread, (v - ov) / spread, side / spread])
    width, height = screen_map.size
    lens = np.array([(width - 1) / 2, (height - 1) / 2, math.hypot(width, height) / 2])
    seen = math.sqrt(abs(float(np.linalg.det(screen_map.slopes([[u0, v0]])[0])))) * side
    step = 2 if seen > _FINER else 1
    matrix = np.append(screen_map.parameters[:8], 1.0)
    _resample(
        np.ascontiguousarray(grey), matrix, screen_map.distortion, lens, start, curve, step, out
    )
    return out


@compiled()
def _resample(
    grey: Grey,
    matrix: Array,
    distortion: float,
    lens: Array,
    start: Array,
    curve: Light,
    step: int,
    out: Light,
) -> None:
    rows, columns = grey.shape
    wide = out.shape[1] * step
    line = np.empty(wide, np.float32)
    part = np.float32(1.0 / (step * step))
    for i in range(out.shape[0]):
        for a in range(step):
            v = start[1] + start[2] * (i + (a + 0.5) / step - 0.5)
            x1 = y1 = 0.0
            for block in range(-1, (wide + _BLOCK - 1) // _BLOCK):
                # The optics are bent too little for a few pixels: straight between two places.
                u = start[0] + start[2] * (((block + 1) * _BLOCK + 0.5) / step - 0.5)
                share = 1.0 / (matrix[6] * u + matrix[7] * v + matrix[8])
                x = (matrix[0] * u + matrix[1] * v + matrix[2]) * share
                y = (matrix[3] * u + matrix[4] * v + matrix[5]) * share
                bent = lens[2] * (1.0 + distortion * (x * x + y * y))
                x0, y0, x1, y1 = x1, y1, x * bent + lens[0], y * bent + lens[1]
                if block < 0:
                    continue
                dx, dy = (x1 - x0) / _BLOCK, (y1 - y0) / _BLOCK
                for n in range(min(_BLOCK, wide - block * _BLOCK)):
                    column, row = x0 + n * dx, y0 + n * dy
                    # Written so that a place that is no number lies inside the frame, too.
                    column = min(column, columns - 1.001) if column > 0.0 else 0.0
                    row = min(row, rows - 1.001) if row > 0.0 else 0.0
                    p, q = int(column), int(row)
                    f, g = np.float32(column - p), np.float32(row - q)
                    left, right = curve[grey[q, p]], curve[grey[q, p + 1]]
                    upper = left + f * (right - left)
                    left, right = curve[grey[q + 1, p]], curve[grey[q + 1, p + 1]]
                    lower = left + f * (right - left)
                    line[block * _BLOCK + n] = upper + g * (lower - upper)
            for j in range(out.shape[1]):
                total = np.float32(0.0)
                for b in range(step):
                    total += line[j * step + b]
                out[i, j] = total * part if a == 0 else out[i, j] + total * part
