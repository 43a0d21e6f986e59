"""The line of a photograph, as something that is seen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.settings import Settings
from glowtrace.photographs.trace_line import TraceLine
from glowtrace.web.controls import box, button
from glowtrace.web.faults.sketch import HANDLES, HANDLES_ON_LOOP
from glowtrace.web.frame import Frame
from glowtrace.web.measure.photograph_desk import PhotographDesk
from glowtrace.web.measure.photograph_files import PhotographFiles

Array = NDArray[np.float64]
FEWEST: Final = 3
"""Points of a line that are worth taking over."""


class SeenPhotograph:
    """A photograph whose line is taken over into the sketch; hidden until it is wanted.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where photographs arrive.
    settings
        Gives what a made-up photograph is taken at.
    on_line
        Called with the points (n, 2) of the line in m, as few as a sketch has.
    """

    def __init__(
        self,
        frame: Frame,
        files: PhotographFiles,
        settings: Callable[[], Settings],
        on_line: Callable[[Array], object],
    ) -> None:
        self._frame, self._on_line = frame, on_line
        self._desk = PhotographDesk(frame, files, settings, self._put_ways_on)
        self.open = self._desk.open

    def _put_ways_on(self) -> None:
        with box("ways-on"):
            button("Take this line over", self._use, "key is-main")

    def _use(self) -> None:
        work = self._desk.work
        line = None if work is None else work.line
        if line is None or len(line.kept) < FEWEST:
            self._frame.say("Find the line in the photograph first.")
            return
        self._frame.say("")
        self._desk.close()
        self._on_line(sketch_points(line))


def sketch_points(line: TraceLine) -> Array:
    """Give points (n, 2) in m at equal distances along the line of a photograph."""
    places = line.kept.places
    count = HANDLES_ON_LOOP if line.shape == "loop" else HANDLES
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))])
    wanted = np.linspace(0.0, along[-1], count)
    return np.stack([np.interp(wanted, along, places[:, k]) for k in (0, 1)], axis=1)
