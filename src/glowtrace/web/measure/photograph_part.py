"""Readings from a photograph: what is known of it, and its line into the table."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from nicegui import background_tasks

from glowtrace.errors import GlowtraceError
from glowtrace.measure.tables.readings import Table
from glowtrace.photographs.photograph import PhotographError
from glowtrace.store.attaching import Attachment
from glowtrace.web.controls import Switch, box, button, hint
from glowtrace.web.frame import Frame
from glowtrace.web.measure.photograph_desk import PhotographDesk, sentence
from glowtrace.web.measure.photograph_files import PhotographFiles
from glowtrace.web.measure.photograph_line import readings_of_line
from glowtrace.web.measure.photograph_work import predicted_lines
from glowtrace.web.measure.taken_at import TakenAt


class PhotographPart:
    """The photograph that readings are taken from; hidden until it is wanted.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where photographs arrive.
    on_points
        Called with the readings that the photograph gives.
    """

    def __init__(
        self, frame: Frame, files: PhotographFiles, on_points: Callable[[Table], object]
    ) -> None:
        self._frame, self._on_points = frame, on_points
        self._shows_predicted = False
        self._desk = PhotographDesk(
            frame, files, lambda: self._taken_at.settings(), self._put_ways_on
        )

    def open(self) -> None:
        """Show it, or say why no photograph can be read on this bench."""
        self._desk.open()

    def adopt(self, key: str) -> None:
        """Show the photograph that another page hands on."""
        if self._desk.open():
            self._desk.adopt(key)

    def attachment(self) -> Attachment | None:
        """Give the photograph's file, if there is one."""
        held = self._desk.held
        return None if held is None else held.attachment

    def _put_ways_on(self) -> None:
        self._taken_at = TakenAt(self._frame, self._predict)
        Switch("Predicted trace", self._set_predicted)
        with box("ways-on"):
            button("Use these points", self._use, "key is-main")
        self._told = hint("").props('role="status"')

    def _set_predicted(self, is_on: bool) -> None:
        self._shows_predicted = is_on
        self._predict()

    def _predict(self) -> None:
        background_tasks.create(self._compute_prediction(), name="prediction")

    async def _compute_prediction(self) -> None:
        """Compute where the trace should lie, and show it."""
        work, settings = self._desk.work, self._taken_at.settings()
        found = work.screen_map if self._shows_predicted and work is not None else None
        prepared = await self._frame.prepared() if found is not None else None
        if found is None or prepared is None:
            self._desk.draw_predicted(())
            return
        lines = await self._frame.compute(
            "Predicting the trace", lambda: predicted_lines(prepared, settings, found)
        )
        self._desk.draw_predicted(lines or ())

    def _use(self) -> None:
        self._frame.say("")
        work, held = self._desk.work, self._desk.held
        try:
            if work is None or work.line is None or held is None:
                raise PhotographError("find the line in the photograph first")
            readings = readings_of_line(
                work.line,
                self._frame.bench.screen,
                self._taken_at.readings(),
                self._desk.shape,
                self._frame.preparation.settings.plate_tie,
            )
        except GlowtraceError as error:
            self._frame.say(sentence(error))
            return
        self._on_points(replace(readings, is_invented=held.is_invented))
        count = len(readings.rows)
        rows = "1 row" if count == 1 else f"{count} rows"
        self._told.text = f"{rows} went into the table of readings, below."
