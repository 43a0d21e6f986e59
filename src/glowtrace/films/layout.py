"""How a screen is laid out for reading: its pixels square on, stations, pieces of printed line.

The screen is looked at square on (`square_on`), in pixels so large that a station, a millimetre of
a usual screen, is a whole number of them. Rows go along v, upwards; columns along u.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.grid_lines import PrintedGrid

Array = NDArray[np.float64]

_STATION: Final = 1e-3
"""Length of a station in m, on a screen on which `_MOST_STATIONS` of it have room."""
_MOST_STATIONS: Final = 120
_PIXELS: Final = 3, 6
"""Fewest and most pixels along a station."""
_MARGIN: Final = 0.2
"""What is looked at beside the screen, in pitches."""
_REACH: Final = 0.14
"""How far to both sides of a printed line is looked, in pitches."""
_CLEAR: Final = 0.15
"""What is left out of a piece at its ends, where other lines cross, in pitches."""


@dataclass(frozen=True, eq=False)
class Layout:
    """Pixels, stations and pieces of a screen; lengths in m."""

    grid: PrintedGrid
    stations: int
    """How many along u."""
    per_station: int
    """Pixels along one."""

    @property
    def pixel(self) -> float:
        """Side of a pixel."""
        u0, _, u1, _ = self.grid.rectangle
        return (u1 - u0) / (self.stations * self.per_station)

    @property
    def margin(self) -> int:
        """Pixels beside the screen."""
        return math.ceil(_MARGIN * self.grid.pitch / self.pixel)

    @property
    def reach(self) -> int:
        """Pixels to both sides of a printed line."""
        return max(4, round(_REACH * self.grid.pitch / self.pixel))

    @property
    def rows(self) -> int:
        """Rows of the screen itself."""
        _, v0, _, v1 = self.grid.rectangle
        return math.floor((v1 - v0) / self.pixel)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns with the margin."""
        around = 2 * self.margin
        return self.rows + around, self.stations * self.per_station + around

    @property
    def lowest(self) -> tuple[float, float]:
        """(u, v) of the middle of the first pixel."""
        u0, v0, _, _ = self.grid.rectangle
        back = (self.margin - 0.5) * self.pixel
        return u0 - back, v0 - back

    @cached_property
    def station_u(self) -> Array:
        """Middles of the stations (s,)."""
        u0, _, u1, _ = self.grid.rectangle
        return np.asarray(u0 + (np.arange(self.stations) + 0.5) * (u1 - u0) / self.stations)

    @cached_property
    def pieces(self) -> Pieces:
        """Pieces of the printed lines inside the screen, each between two crossings."""
        u0, v0, u1, v1 = self.grid.rectangle
        clear = _REACH * self.grid.pitch  # a line beside the border is no clear line
        inner_u = [u for u in self.grid.u if u0 + clear < u < u1 - clear]
        inner_v = [v for v in self.grid.v if v0 + clear < v < v1 - clear]
        rows = [(0, u, *cut, -1) for u in inner_u for cut in self._cut(v0, self.grid.v, v1)]
        rows += [(1, v, *cut, -1) for v in inner_v for cut in self._cut(u0, self.grid.u, u1)]
        return self._pieces(rows)

    @cached_property
    def border(self) -> Pieces:
        """Pieces of the screen's edge, with the side (0 left, 1 right, 2 bottom, 3 top) of each."""
        u0, v0, u1, v1 = self.grid.rectangle
        across, along = self._cut(v0, self.grid.v, v1), self._cut(u0, self.grid.u, u1)
        rows = [(0, at, *cut, side) for side, at in enumerate((u0, u1)) for cut in across]
        rows += [(1, at, *cut, 2 + side) for side, at in enumerate((v0, v1)) for cut in along]
        return self._pieces(rows)

    def _cut(self, low: float, lines: tuple[float, ...], high: float) -> list[tuple[float, float]]:
        """Give the stretches between neighbouring lines, without their ends."""
        clear = _CLEAR * self.grid.pitch
        edges = [low, *lines, high]
        cuts = [(a + clear, b - clear) for a, b in pairwise(edges)]
        return [(a, b) for a, b in cuts if b - a > 0.2 * self.grid.pitch]

    def _pieces(self, rows: list[tuple[int, float, float, float, int]]) -> Pieces:
        axis, at, start, end, side = (np.array(each) for each in zip(*rows, strict=True))
        middle = (start + end) / 2
        is_upright = axis == 0
        low = np.where(is_upright, self.lowest[0], self.lowest[1])
        other = np.where(is_upright, self.lowest[1], self.lowest[0])
        return Pieces(
            axis.astype(np.int64),
            np.where(is_upright, at, middle),
            np.where(is_upright, middle, at),
            (at - low) / self.pixel,
            np.ceil((start - other) / self.pixel).astype(np.int64),
            np.floor((end - other) / self.pixel).astype(np.int64),
            side.astype(np.int64),
        )


@dataclass(frozen=True, eq=False)
class Pieces:
    """Straight pieces of lines (p,): where they are on the screen, and in its pixels."""

    axis: NDArray[np.int64]
    """0: along v, its offset is one of u; 1: along u."""
    u: Array
    """Its middle, m."""
    v: Array
    across: Array
    """Column of a piece along v, row of one along u."""
    start: NDArray[np.int64]
    """First pixel along it."""
    stop: NDArray[np.int64]
    """Pixel behind the last along it."""
    side: NDArray[np.int64]
    """Of the screen, for a piece of the border."""


def layout_for(screen_map: ScreenMap, grid: PrintedGrid) -> Layout:
    """Give the layout in which a screen is read that is seen through a map."""
    u0, v0, u1, v1 = grid.rectangle
    stations = min(_MOST_STATIONS, max(12, round((u1 - u0) / _STATION)))
    slopes = screen_map.slopes([[(u0 + u1) / 2, (v0 + v1) / 2]])[0]
    seen = math.sqrt(abs(float(np.linalg.det(slopes)))) * (u1 - u0) / stations
    return Layout(grid, stations, int(np.clip(round(seen), *_PIXELS)))
