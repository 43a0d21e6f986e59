"""Faults: what is seen on the left, what it may be in the middle, what to check next beside it."""

from __future__ import annotations

import numpy as np

from glowtrace.web.controls import box, button, words
from glowtrace.web.faulting.photograph_line import SeenPhotograph
from glowtrace.web.faulting.sketch import Sketch, expected_pieces
from glowtrace.web.faulting.told import Told
from glowtrace.web.frame import Frame
from glowtrace.web.measuring.photograph_files import PhotographFiles

SAFETY = (
    "Before you touch a lead: high tension off and discharged. "
    "Local rules and the person responsible decide."
)


class FaultsPage:
    def __init__(self, frame: Frame, files: PhotographFiles, told: Told) -> None:
        self._frame, self._told = frame, told
        frame.body.classes("faulting")
        with frame.body:
            words(SAFETY, "p", "faulting-safety").props('role="note"')
            self._photograph = SeenPhotograph(frame, files, lambda line: self._sketch.put(line))
            with box("faulting-columns"):
                with box("seen", "section").props('aria-label="What is seen"'):
                    with box("column-head"):
                        words("What do you see?", "h3")
                        button("From a photograph", self._photograph.open, "plain")
                    self._sketch = Sketch(frame.bench, self._sketched)

    async def run(self) -> None:
        prepared = await self._frame.prepared()
        if prepared is None:
            return
        pieces = await self._frame.compute(
            "Drawing what is expected",
            lambda: expected_pieces(prepared, self._frame.preparation.settings),
        )
        self._sketch.expect(pieces or ())

    def _sketched(self, points: np.ndarray) -> None:
        print(points.tolist())
