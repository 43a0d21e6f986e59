"""Lines of any shape in a live camera's pictures: read beside what follows the screen.

A reading takes some tenths of a second. One is made at a time, of the newest picture, in a thread
of its own; the last one counts until the next, or until the screen is lost.
"""

from __future__ import annotations

import time
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.films.curve_reading import ReadCurve, read_curve
from glowtrace.films.square_on import Grey, Light
from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.grid_lines import PrintedGrid

Array = NDArray[np.float64]

_STEADY: Final = 0.3
"""How quickly the rate that is told follows."""


class LiveCurves:
    """The newest line of any shape."""

    def __init__(self) -> None:
        self._worker = ThreadPoolExecutor(1, "curve")
        self._reading: Future[ReadCurve] | None = None
        self._done = self._every = 0.0
        self._places: Array = np.empty((0, 2))

    @property
    def rate(self) -> float:
        """Readings a second; 0 before the second one."""
        return round(1.0 / self._every, 1) if self._every > 0.0 else 0.0

    def forget(self) -> None:
        """Forget what was read, and what is being read."""
        self._reading, self._done, self._places = None, 0.0, np.empty((0, 2))

    def take(self, grey: Grey, screen_map: ScreenMap, grid: PrintedGrid, curve: Light) -> Array:
        """Give the newest places (n, 2) in m, NaN between pieces, and begin with this picture.

        Parameters
        ----------
        grey, screen_map, grid, curve
            As for `read_curve`.
        """
        if self._reading is not None and self._reading.done():
            self._places = _places(self._reading)
            last, self._done, self._reading = self._done, time.monotonic(), None
            if last > 0.0:
                every = self._done - last
                self._every += (_STEADY if self._every > 0.0 else 1.0) * (every - self._every)
        if self._reading is None:
            self._reading = self._worker.submit(read_curve, grey, screen_map, grid, curve)
        return self._places


def _places(reading: Future[ReadCurve]) -> Array:
    """Give the places (n, 2) of a line with NaN between its pieces."""
    try:
        found = reading.result()
    except (ValueError, np.linalg.LinAlgError):  # one poor picture must not end the others
        return np.empty((0, 2))
    cuts = np.flatnonzero(np.diff(found.piece)) + 1
    return np.insert(found.places, cuts, np.nan, axis=0)
