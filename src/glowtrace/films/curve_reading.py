"""A glowing line of any shape on a screen: one that turns back, crosses itself or closes.

It is found by the careful reader of photographs in the grey of a frame, with fewer pixels, which
takes some tenths of a second: for a live camera now and then, beside what follows the screen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.films.layout import layout_for
from glowtrace.films.square_on import FULL_RANGE, Grey, Light, square_on
from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.grid_lines import PrintedGrid
from glowtrace.photographs.light import grey_screen
from glowtrace.photographs.trace_line_extraction import curve_stations

Array = NDArray[np.float64]

_ACROSS: Final = 320
"""About as many pixels along the longer side are looked at."""


@dataclass(frozen=True, eq=False)
class ReadCurve:
    """Points (n,) of the line, in order along each of its pieces; lengths in m."""

    places: Array
    """(n, 2) u and v; none where no line is seen."""
    across: Array
    """(n, 2) unit vectors across the line."""
    uncertainty: Array
    """(n,) standard, across the line, of each point by itself."""
    piece: NDArray[np.int64]
    """(n,) number of the unbroken piece."""

    def __len__(self) -> int:
        return len(self.places)


NO_CURVE: Final = ReadCurve(
    np.empty((0, 2)), np.empty((0, 2)), np.empty(0), np.empty(0, dtype=np.int64)
)


def read_curve(
    grey: Grey, screen_map: ScreenMap, grid: PrintedGrid, curve: Light = FULL_RANGE
) -> ReadCurve:
    """Read a line of any shape off a frame.

    Parameters
    ----------
    grey
        (rows, columns) luma of the frame, 8 bits.
    screen_map
        Where the screen is in it.
    grid
        What is printed on it.
    curve
        Light (256,) of a stored grey.
    """
    u0, v0, u1, v1 = grid.rectangle
    pixel = max(layout_for(screen_map, grid).pixel, max(u1 - u0, v1 - v0) / _ACROSS)
    light = square_on(grey, screen_map, layout_for(screen_map, grid), curve, margin=0, pixel=pixel)
    lowest = u0 + pixel / 2, v0 + pixel / 2
    v, u = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    at = screen_map.pixels(np.column_stack([u.ravel(), v.ravel()]) * pixel + lowest)
    inside = ((at >= 0) & (at <= np.array(grey.shape[::-1]) - 1)).all(axis=1)
    screen = grey_screen(light, np.reshape(inside, light.shape), lowest, pixel, grid.pitch)
    stations = curve_stations(screen)
    if stations is None:
        return NO_CURVE
    return ReadCurve(
        screen.places(*stations.position.T),
        stations.across,
        stations.uncertainty * pixel,
        stations.piece,
    )
