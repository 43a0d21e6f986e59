"""The screen followed and its line read in the pictures of a live camera.

It runs in a process of its own, which takes one picture after the other and keeps none.
"""

from __future__ import annotations

import io
import os
from multiprocessing.connection import Connection
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.screen_plane import Shows
from glowtrace.errors import GlowtraceError
from glowtrace.films.following import FollowState, FrameReading, begin_following, follow_and_read
from glowtrace.films.spot_reading import read_spot
from glowtrace.films.square_on import square_on
from glowtrace.photographs.grid import ScreenMap, corners, fit_map
from glowtrace.photographs.grid_finding import find_grid
from glowtrace.photographs.grid_lines import PrintedGrid
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.photograph import linear_light
from glowtrace.web.camera.live_curves import LiveCurves

Grey = NDArray[np.uint8]
Answer = dict[str, Any]

MOST_PIXELS: Final = 8_000_000
"""Of a picture."""
CLICKS: Final = 4
PATIENT: Final = 15
"""Pictures without the screen until it is looked for everywhere, and until that is done again."""
AGREE: Final = 0.1
"""Pitches within which two pictures must have the screen at the same place."""


def corner_crossings(grid: PrintedGrid) -> tuple[tuple[float, float], ...]:
    """Give the outermost crossings (u, v) of a grid, in the order in which they are clicked."""
    u0, u1, v0, v1 = grid.u[0], grid.u[-1], grid.v[0], grid.v[-1]
    return (u0, v0), (u1, v0), (u1, v1), (u0, v1)


class LiveScreen:
    """The screen in the pictures so far.

    Parameters
    ----------
    grid
        What is printed on it.
    shows
        What the beam draws on it; whether a line on a sheet goes on along it or may turn back is a
        wish.
    """

    def __init__(self, grid: PrintedGrid, shows: Shows = "line") -> None:
        self._grid, self._shows = grid, shows
        self._curves = LiveCurves() if shows == "path" else None
        self._size: tuple[int, int] | None = None
        self._state: FollowState | None = None
        self._clicks: list[tuple[float, float]] = []
        self._is_looking = False
        self._lost = 0
        self._found: ScreenMap | None = None
        self._says = ""

    def ask(self, kind: str, clicks: list[tuple[float, float]]) -> None:
        """Take a wish: "clicks", "find" or "forget" the screen, read a "line" or a "curve"."""
        if kind in ("line", "curve"):
            if self._shows == "line":
                self._curves = LiveCurves() if kind == "curve" else None
            return
        self._state, self._found, self._says = None, None, ""
        if self._curves is not None:
            self._curves.forget()
        self._is_looking = kind == "find"
        self._clicks = clicks if kind == "clicks" else []

    def take(self, content: bytes) -> Answer:
        """Give what is to be known of a picture, a JPEG file."""
        try:
            grey = _grey_of(content)
        except (OSError, ValueError):
            return {"state": "unreadable", "says": "A picture of the camera could not be read."}
        size = (grey.shape[1], grey.shape[0])
        if self._size not in (None, size):
            self.ask("forget", [])
            self._says = "The camera changed the size of its picture: fix the screen again."
        self._size = size
        try:
            self._fix(grey)
        except GlowtraceError as error:
            self._says = f"{error}"
        if self._state is None:
            return {"state": "looking" if self._is_looking else "none", "says": self._says}
        reading, self._state = follow_and_read(grey, self._state)
        self._lost = self._lost + 1 if reading.is_lost else 0
        if self._lost and self._lost % PATIENT == 0:
            self._look_everywhere(grey)
        return {
            "state": "lost" if reading.is_lost else "followed",
            "says": "",
            "trust": reading.trust,
            "map": _map_told(reading.screen_map),
            **self._seen(grey, reading),
        }

    def _seen(self, grey: Grey, reading: FrameReading) -> Answer:
        """Give what glows on the screen: a line, a curve or a spot."""
        state = self._state
        if reading.is_lost or state is None:
            if self._curves is not None:
                self._curves.forget()
            return {"shape": "", "u": [], "v": []}
        if self._shows == "spot":
            light = square_on(grey, reading.screen_map, state.layout, state.curve)
            spot = read_spot(light, state.layout)
            found = [] if spot is None else [[spot.u, spot.v, spot.radius]]
            u, v, radius = (_told(np.array(found).reshape(-1, 3)[:, n]) for n in range(3))
            return {"shape": "spot", "u": u, "v": v, "radius": radius}
        if self._curves is not None:
            curve = self._curves.take(grey, reading.screen_map, self._grid, state.curve)
            return {
                "shape": "curve",
                "u": _told(curve[:, 0]),
                "v": _told(curve[:, 1]),
                "rate": self._curves.rate,
            }
        return {"shape": "line", "u": _told(reading.u), "v": _told(reading.v)}

    def _fix(self, grey: Grey) -> None:
        """Find the screen by clicks, or in two pictures that agree."""
        if self._clicks:
            clicks, self._clicks = self._clicks, []
            points = [
                GridPoint(u, v, column, row)
                for (u, v), (column, row) in zip(corner_crossings(self._grid), clicks, strict=True)
            ]
            size = (grey.shape[1], grey.shape[0])
            self._begin(grey, fit_map(size, points, self._grid.rectangle))
        elif self._is_looking:
            found = find_grid(linear_light(grey).astype(np.float64), self._grid)
            before, self._found = self._found, found.screen_map
            if found.screen_map is None:
                self._is_looking = False
                what = found.says.partition("; click")[0]
                self._says = f"{what[:1].upper()}{what[1:]}. Click four crossings."
            elif before is not None:
                self._is_looking = False
                if not self._are_one(before, found.screen_map):
                    self._says = "Two pictures have the grid at different places: click crossings."
                else:
                    self._begin(grey, found.screen_map)

    def _look_everywhere(self, grey: Grey) -> None:
        """Look for a lost screen in the whole picture; two of them must agree."""
        found = find_grid(linear_light(grey).astype(np.float64), self._grid).screen_map
        before, self._found = self._found, found
        if found is not None and before is not None and self._are_one(before, found):
            state = begin_following(grey, found, self._grid)
            self._state = state if state.can_follow else self._state

    def _are_one(self, one: ScreenMap, other: ScreenMap) -> bool:
        return _away(one, other) < AGREE * self._grid.pitch

    def _begin(self, grey: Grey, screen_map: ScreenMap) -> None:
        state = begin_following(grey, screen_map, self._grid)
        if state.can_follow:
            self._state, self._says = state, ""
        else:
            self._says = (
                "Too little of the printed grid lies where it should: click more exactly while "
                "nothing moves, or with more light on the screen."
            )


def serve_reading(grid: PrintedGrid, shows: Shows, connection: Connection) -> None:
    """Answer pictures and wishes until nobody asks any more."""
    if hasattr(os, "nice"):
        os.nice(5)  # the page comes first
    screen = LiveScreen(grid, shows)
    _compile(grid)
    try:
        connection.send({"state": "ready", "says": ""})
        while True:
            kind, content = connection.recv()
            if kind == "picture":
                connection.send(screen.take(content))
            else:
                screen.ask(kind, content)
    except (EOFError, BrokenPipeError, KeyboardInterrupt):
        return


def _compile(grid: PrintedGrid) -> None:
    """Read a picture without a screen, so that the first real one need not wait."""
    u0, v0, u1, v1 = grid.rectangle
    wide = 600.0 / (u1 - u0)
    points = [GridPoint(u, v, 20 + wide * (u - u0), 20 + wide * (v1 - v)) for u, v in
              corners((u0, v0, u1, v1))]  # fmt: skip
    size = (640, round(40 + wide * (v1 - v0)))
    noise = np.random.default_rng(1).integers(90, 110, size[::-1]).astype(np.uint8)
    state = begin_following(noise, fit_map(size, points, grid.rectangle), grid)
    follow_and_read(noise, state)


def _grey_of(content: bytes) -> Grey:
    from PIL import Image

    with Image.open(io.BytesIO(content), formats=("JPEG",)) as image:
        if image.width * image.height > MOST_PIXELS:
            raise ValueError("too large")
        image.draft("L", image.size)
        return np.asarray(image.convert("L"))


def _away(one: ScreenMap, other: ScreenMap) -> float:
    """Give how far apart two maps have the corners of the screen at most, m."""
    ends = corners(one.rectangle)
    off = other.places(one.pixels(ends)) - ends
    return float(np.hypot(*off.T).max())


def _map_told(screen_map: ScreenMap) -> dict[str, Any]:
    """Give the numbers with which the page finds the pixel of a place in m."""
    width, height = screen_map.size
    return {
        "numbers": [*screen_map.parameters[:8].tolist(), 1.0],
        "bend": screen_map.distortion,
        "origin": screen_map.origin,
        "spread": screen_map.spread,
        "size": [width, height],
    }


def _told(values: NDArray[np.float64]) -> list[float | None]:
    """Give lengths in mm to a hundredth, None for none."""
    return [None if np.isnan(each) else round(1e3 * float(each), 2) for each in values]
