"""A picture plane on the frame of a clip: where things are on it, its grid and its plates."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.screen_plane import multiples
from glowtrace.report.clips.slate import Slate
from glowtrace.report.look import Look
from glowtrace.units import fixed

Array = NDArray[np.float64]
Extent = tuple[float, float, float, float]
"""(u0, u1, v0, v1) of a picture plane in m."""

_MOST_NUMBERS: Final = 6  # along one side of a screen


@dataclass(frozen=True)
class Screen:
    """A picture plane on the frame.

    Attributes
    ----------
    left, top, width, height
        Where it is, in pixels.
    extent
        What it shows.
    is_mirrored
        Whether u runs to the left.
    """

    left: int
    top: int
    width: int
    height: int
    extent: Extent
    is_mirrored: bool = False

    @property
    def rectangle(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom in pixels."""
        return self.left, self.top, self.left + self.width, self.top + self.height

    @property
    def scale(self) -> float:
        """Pixels a metre."""
        return self.width / (self.extent[1] - self.extent[0])

    def places(self, u: Array, v: Array) -> Array:
        """Give where places (u, v) in m are on the frame (..., 2), in pixels."""
        u0, u1, _, v1 = self.extent
        away = u1 - u if self.is_mirrored else u - u0
        x = self.left + self.scale * away
        return np.stack([x, self.top + self.scale * (v1 - v)], axis=-1)

    def direction(self, u: float, v: float) -> Array:
        """Give a direction on the frame (2,), in pixels, for one in the picture plane."""
        return np.array([-u if self.is_mirrored else u, -v])


def draw_screen(
    slate: Slate,
    screen: Screen,
    bench: Bench,
    look: Look,
    s: float,
    has_grid: bool,
    letters: float,
) -> None:
    """Draw ground and frame, and on them grid, its numbers in mm and plates."""
    corners = box_corners(*screen.rectangle)
    slate.shape(corners, look.screen)
    if has_grid:
        _draw_grid(slate, screen, bench, look, s, letters)
    slate.line(np.vstack([corners, corners[:1]]), look.frame, 1.6 * s)


def _draw_grid(
    slate: Slate, screen: Screen, bench: Bench, look: Look, s: float, letters: float
) -> None:
    left, _, _, bottom = screen.rectangle
    slate.clip_to(screen.rectangle)
    u0, u1, v0, v1 = screen.extent
    pitch = bench.screen.grid_pitch
    for u in multiples(u0, u1, pitch):
        slate.line(screen.places(np.full(2, u), np.array([v0, v1])), look.grid, 1.4 * s)
    for v in multiples(v0, v1, pitch):
        colour = look.frame if abs(v) < pitch / 2 else look.grid
        slate.line(screen.places(np.array([u0, u1]), np.full(2, v)), colour, 1.4 * s)
    _draw_plates(slate, screen, bench, look, s)
    slate.clip_to(None)
    skip = next(n for n in (1, 2, 5, 10, 20, 50, 1000)
                if max(u1 - u0, v1 - v0) / (n * pitch) <= _MOST_NUMBERS)  # fmt: skip
    for u in multiples(u0, u1, skip * pitch):
        x, _ = screen.places(np.array(u), np.array(v0))
        if x > left + 1.5 * letters * s:  # there stands the unit
            words = fixed(1e3 * u)
            slate.text(float(x), bottom + 22 * s, words, letters * s, look.quiet, side="middle")
    for v in multiples(v0, v1, skip * pitch):
        _, y = screen.places(np.array(u0), np.array(v))
        slate.text(left - 9 * s, float(y), fixed(1e3 * v), letters * s, look.quiet, side="right")
    slate.text(left - 9 * s, bottom + 22 * s, "mm", letters * s, look.quiet, side="right")


def _draw_plates(slate: Slate, screen: Screen, bench: Bench, look: Look, s: float) -> None:
    for ends in bench.plane.plates(bench.plates):
        slate.line(screen.places(ends[:, 0], ends[:, 1]), look.quiet, 5 * s)


def box_corners(left: float, top: float, right: float, bottom: float) -> Array:
    """Give the corners (4, 2) of a box."""
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], dtype=float)
