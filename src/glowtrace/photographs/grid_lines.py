"""The printed lines of a screen's grid, and the light in which they are looked for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.photographs.photograph import Photograph, linear_light

Array = NDArray[np.float64]

_EDGE: Final = 0.05
"""Lines nearer than this to the edge of the screen, in pitches, may not be printed."""


@dataclass(frozen=True)
class PrintedGrid:
    """Where the lines of a screen's grid are printed."""

    u: tuple[float, ...]
    """m: the lines along v."""
    v: tuple[float, ...]
    """m: the lines along u."""
    pitch: float
    """m."""
    rectangle: tuple[float, float, float, float]
    """(u0, v0, u1, v1) of the screen in m."""


def printed_grid(bench: Bench) -> PrintedGrid:
    """Give the grid of a bench's screen: a line at every multiple of its pitch."""
    rectangle = bench.plane.rectangle
    pitch = bench.screen.grid_pitch
    u0, v0, u1, v1 = rectangle

    def lines(low: float, high: float) -> tuple[float, ...]:
        first, last = math.ceil(low / pitch + _EDGE), math.floor(high / pitch - _EDGE)
        return tuple(n * pitch for n in range(first, last + 1))

    return PrintedGrid(lines(u0, u1), lines(v0, v1), pitch, rectangle)


def grey(photograph: Photograph) -> Array:
    """Light of all colours together (rows, columns)."""
    light: Array = linear_light(photograph.pixels).mean(axis=2, dtype=np.float64)
    return light
