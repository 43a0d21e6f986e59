"""The glowing line on a screen seen square on: one height for each station, or none.

The brightest smooth way from the left to the right is sought in the relief of the light; at each
station the centroid about it is the height, unless the light there is too dim, out of the noise by
too little, or off the smooth curve: then something hides the line, or it is too dim, and no height
is given. For lines with one height at each place; a line that turns back is not read.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.compiled import compiled
from glowtrace.films.layout import Layout
from glowtrace.films.printed_shade import without_printed_lines
from glowtrace.films.square_on import Light

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_HALF: Final = 0.08
"""Half the height over which light is gathered, in pitches."""
_WINDOW: Final = 0.22
"""Half the height of the window of a centroid, in pitches."""
_STEEPEST: Final = 2.0
"""Slope of the steepest line."""
_CLEAR: Final = 6.0
"""How far the light of a station must stand out of the noise."""
_DIM: Final = 0.25
"""Part of the light that is usual along the line from which it is seen."""
_SPAN: Final = 7.0
"""Stations to both sides over which the line is about a parabola."""
_FEWEST: Final = 12
"""Stations of a line that is no chance."""
_STRAY: Final = 0.025, 5.0
"""How far off the smooth curve a station may lie: in pitches, and in scatters of the others."""
_RIDGE: Final = np.array([1e-9, 1e-3, 1e-2])
"""What keeps slope and bend of a parabola small where little is near."""


@dataclass(frozen=True, eq=False)
class ReadLine:
    """The line at the stations (s,) of a screen; lengths in m."""

    heights: Array
    """nan where it is not seen."""
    is_seen: Mask
    smooth: Array
    """A smooth curve through what is seen, drawn on over short gaps; nan where there is none."""
    clearness: Array
    """Light over noise."""

    @property
    def is_found(self) -> bool:
        """Whether there is a line."""
        return bool(self.is_seen.any())


def read_line(light: Light, layout: Layout) -> ReadLine:
    """Read the line off the light of a screen, square on."""
    m, per, pitch = layout.margin, layout.per_station, layout.grid.pitch / layout.pixel
    inner = light[m : m + layout.rows, m : m + layout.stations * per]
    strips = inner.reshape(layout.rows, layout.stations, per).mean(axis=2).T.astype(np.float64)
    strips = without_printed_lines(strips, layout)
    strips -= np.median(strips, axis=1, keepdims=True)
    half = max(1, round(_HALF * pitch))
    relief, noise = _relief(strips, half)
    way = _brightest_way(relief, noise, max(2, round(_STEEPEST * per)))
    at = np.arange(layout.stations)
    strength, clearness = relief[at, way], relief[at, way] / noise
    middle = _centroids(strips, way.astype(float), _WINDOW * pitch, 0.1 * pitch)
    is_clear = (clearness > _CLEAR) & (np.abs(middle - way) < 0.15 * pitch)
    if is_clear.any():
        is_clear &= strength > _DIM * np.median(strength[is_clear])
    is_seen, smooth = _smooth(middle, is_clear, pitch)
    lowest = layout.grid.rectangle[1]
    heights = lowest + (middle + 0.5) * layout.pixel
    return ReadLine(
        np.where(is_seen, heights, np.nan),
        is_seen,
        lowest + (smooth + 0.5) * layout.pixel,
        clearness,
    )


def _relief(strips: Array, half: int) -> tuple[Array, float]:
    """Give how far light gathered over a height stands out above both sides, and its noise."""
    gathered = _gathered(strips, half)
    wide = 4 * half
    relief = np.full_like(gathered, -1.0)
    sides = np.maximum(gathered[:, : -2 * wide], gathered[:, 2 * wide :])
    relief[:, wide:-wide] = gathered[:, wide:-wide] - sides
    # Towards the edge of the screen there is one side only.
    relief[:, half:wide] = gathered[:, half:wide] - gathered[:, half + wide : 2 * wide]
    relief[:, -wide:-half] = gathered[:, -wide:-half] - gathered[:, -2 * wide : -half - wide]
    rough = 1.4826 * float(np.median(np.abs(strips - gathered)))
    return relief, max(rough * (1.5 / (2 * half + 1)) ** 0.5, 1e-6)


def _gathered(strips: Array, half: int) -> Array:
    padded = np.pad(strips, ((0, 0), (half + 1, half)), mode="edge")
    sums = np.cumsum(padded, axis=1)
    gathered: Array = (sums[:, 2 * half + 1 :] - sums[:, : -2 * half - 1]) / (2 * half + 1)
    return gathered


@compiled()
def _brightest_way(relief: Array, noise: float, steepest: int) -> NDArray[np.int64]:
    """Row at each station of the way with the most light that does not jump (Viterbi).

    Light counts by its root, so that a dim part is followed as well as a bright one.
    """
    stations, rows = relief.shape
    best = np.empty((stations, rows))
    came = np.zeros((stations, rows), np.int64)
    for s in range(stations):
        for r in range(rows):
            own = np.sqrt(max(relief[s, r], 0.0) / noise)
            if s == 0:
                best[s, r] = own
                continue
            most = -1.0
            for step in range(-steepest, steepest + 1):
                p = r + step
                if 0 <= p < rows:
                    # One step is free of cost where the line is steep, two cost a little.
                    value = best[s - 1, p] - 0.02 * step * step
                    if value > most:
                        most, came[s, r] = value, p
            best[s, r] = most + own
    way = np.empty(stations, np.int64)
    way[-1] = np.argmax(best[-1])
    for s in range(stations - 1, 0, -1):
        way[s - 1] = came[s, way[s]]
    return way


@compiled()
def _centroids(strips: Array, way: Array, half: float, edge: float) -> Array:
    """Middle (s,) of the light within half a window about a way, over what is beside it."""
    stations, rows = strips.shape
    middle = way.copy()
    for s in range(stations):
        for _ in range(4):
            low = max(0, int(middle[s] - half - edge))
            high = min(rows, int(middle[s] + half + edge) + 2)
            base = count = 0.0
            for r in range(low, high):
                if abs(r - middle[s]) > half:
                    base, count = base + strips[s, r], count + 1.0
            base = base / max(count, 1.0)
            weight = moment = 0.0
            for r in range(low, high):
                off = r - middle[s]
                w = min(max(half + 0.5 - abs(off), 0.0), 1.0) * (strips[s, r] - base)
                weight, moment = weight + w, moment + w * off
            if weight > 0.0:
                middle[s] = min(max(middle[s] + moment / weight, 0.0), rows - 1.0)
    return middle


def _smooth(middle: Array, is_clear: Mask, pitch: float) -> tuple[Mask, Array]:
    """Fit a parabola about each station to what is clear near it; leave out what is off it."""
    seen = is_clear.copy()
    weight, smooth = seen.astype(float), np.full_like(middle, np.nan)
    for _ in range(5):
        if seen.sum() < _FEWEST:
            return np.zeros_like(seen), np.full_like(middle, np.nan)
        smooth = _local_parabolas(middle, weight)
        off = np.abs(middle - smooth)
        scatter = 1.4826 * float(np.median(off[seen]))
        limit = max(_STRAY[0] * pitch, _STRAY[1] * scatter)
        weight = is_clear * np.minimum(1.0, limit / 3 / np.maximum(off, 1e-9)) * (off < 3 * limit)
        seen = is_clear & (off < limit)
    return seen, smooth


def _local_parabolas(middle: Array, weight: Array) -> Array:
    """Value at each station of the parabola fitted round it; nan where little is near."""
    kernels = _kernels(len(middle))
    moments, sums = kernels @ weight, kernels[:3] @ (weight * middle)
    normal = np.stack([moments[n : n + 3].T for n in range(3)], axis=1)
    normal[:, [0, 1, 2], [0, 1, 2]] += _RIDGE
    solved = np.linalg.solve(normal, sums.T[:, :, None])[:, 0, 0]
    value: Array = np.where(moments[0] > 1.0, solved, np.nan)
    return value


@cache
def _kernels(stations: int) -> Array:
    """Weights (5, s, s) of the stations round each, times powers of how far they are."""
    at = np.arange(stations) / _SPAN
    far = at[None, :] - at[:, None]
    near = np.clip(1.0 - (far / 2) ** 2, 0.0, None) ** 2
    return np.stack([near * far**n for n in range(5)])
