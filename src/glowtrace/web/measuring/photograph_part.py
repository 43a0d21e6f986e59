"""Readings from a photograph: grid, line, points, and into the table."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np
from nicegui import background_tasks, ui
from nicegui.events import GenericEventArguments
from numpy.typing import NDArray

from glowtrace.bench.model import EndFace, GasGlow
from glowtrace.errors import GlowtraceError
from glowtrace.measure.grid_lines import printed_grid
from glowtrace.measure.photograph import PhotographError
from glowtrace.measure.readings import Table
from glowtrace.measure.trace_line import Shape
from glowtrace.store.attaching import Attachment
from glowtrace.web.controls import Choice, Switch, box, button, words
from glowtrace.web.frame import Frame
from glowtrace.web.measuring.invented_photograph import invented_photograph
from glowtrace.web.measuring.photograph_face import PhotographFace, place_text
from glowtrace.web.measuring.photograph_files import PATH, PhotographFiles
from glowtrace.web.measuring.photograph_line import put_findings, readings_of_line
from glowtrace.web.measuring.photograph_work import PhotographWork, predicted_lines
from glowtrace.web.measuring.taken_at import TakenAt

Array = NDArray[np.float64]

SHAPES: Final[dict[str, str]] = {
    "single-valued": "goes along",
    "loop": "closes, loops or turns back",
}
CLICKS: Final[dict[str, str]] = {"grid": "grid points", "line": "points of the line"}
SEND = """async (event) => {{
  const file = event.target.files[0];
  if (!file) return;
  event.target.value = "";
  emit("sending", "");
  try {{
    const answer = await fetch("{address}", {{ method: "POST", body: file }});
    emit(answer.ok ? "sent" : "failed", await answer.text());
  }} catch (error) {{
    emit("failed", "The photograph could not be sent; is the program still running?");
  }}
}}"""


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
        self._frame, self._files, self._on_points = frame, files, on_points
        self._key = files.new_key()
        frame.body.client.on_delete(lambda: files.drop(self._key))
        self._grid = printed_grid(frame.bench)
        self._work: PhotographWork | None = None
        self._loads = 0
        self._mode = "grid"
        self._shows_predicted = False
        self._predicted: tuple[Array, ...] = ()
        is_gas = isinstance(frame.bench.screen, GasGlow)
        self._shape: Shape = "loop" if is_gas else "single-valued"
        with box("photograph", "section").props('aria-label="Photograph"') as self._box:
            self._put_on_page()
        self._box.set_visibility(False)

    def open(self) -> None:
        """Show it, or say why no photograph can be read on this bench."""
        if isinstance(self._frame.bench.screen, EndFace):
            self._frame.say(
                "A photograph cannot be read on this bench: an end face shows a spot, not a line."
            )
            return
        self._box.set_visibility(True)

    def attachment(self) -> Attachment | None:
        """Give the photograph's file, if there is one."""
        held = self._files.get(self._key)
        return None if held is None else held.attachment

    # ---- on the page -----------------------------------------------------------------------------

    def _put_on_page(self) -> None:
        with box("photograph-head"):
            words("Photograph", "h3")
            with box("plain", "label"):
                words("Choose a photograph (JPEG, PNG, HEIC)")
                chooser = ui.element("input").classes("visually-hidden")
                chooser.props('type="file" accept="image/jpeg,image/png,image/heic,.heic,.heif"')
                script = SEND.format(address=f"{PATH}/{self._key}")
                chooser.on("change", self._arrives, js_handler=script)
            button("Made-up photograph to try", self._invent, "plain")
            button("Close", lambda: self._box.set_visibility(False), "plain")
        with box("photograph-table") as self._table:
            self._face = PhotographFace(self._click, self._move, self._remove)
            with box("photograph-steps"):
                self._invented = words(
                    "An invented photograph: computed, not taken.", "p", "attention"
                )
                self._mode_choice = Choice("Clicks set", CLICKS, self._set_mode)
                self._prompt = words("", "p", "photograph-prompt").props('role="status"')
                self._grid_says = words("", "p", "hint")
                with box("ways-on"):
                    button("Find the grid", self._find_grid)
                    button("Start again", self._start_again)
                shapes = Choice("The line", SHAPES, self._set_shape)
                shapes.put(self._shape)
                with box("ways-on"):
                    button("Find the line", self._find_line)
                self._line_says = box("untold", "ul")
                self._taken_at = TakenAt(self._frame, self._predict)
                Switch("Predicted trace", self._set_predicted)
                with box("ways-on"):
                    button("Use these points", self._use, "key is-main")
        self._table.set_visibility(False)

    def _show(self) -> None:
        work = self._work
        if work is None:
            return
        self._mode_choice.put(self._mode)
        self._prompt.text = self._next_step(work)
        self._grid_says.text = f"{work.says[:1].upper()}{work.says[1:]}." if work.says else ""
        put_findings(self._line_says, work.line)
        self._face.draw(
            self._mode, work.clicked, work.screen_map, work.grid, work.line, self._predicted
        )

    def _next_step(self, work: PhotographWork) -> str:
        if work.screen_map is None:
            place = work.wanted
            if place is None:
                return "Correct the grid points: drag them, or take one away with Delete."
            count = min(len(work.clicked) + 1, 4)
            return f"Click the crossing at {place_text(*place)} ({count} of 4)."
        if work.line is None:
            return "The screen is found; look whether the small crosses lie on the grid."
        if self._mode == "line":
            return "Drag a point to correct it, Delete takes it out, a click adds one."
        return "Choose “points of the line” to correct the line."

    # ---- steps -----------------------------------------------------------------------------------

    def _arrives(self, event: GenericEventArguments) -> None:
        state, text = event.args
        self._frame.show_working("Sending the photograph …" if state == "sending" else "")
        self._frame.say(str(text) if state == "failed" else "")
        if state == "sent":
            self._load()

    async def _invent(self) -> None:
        self._frame.say("")
        prepared = await self._frame.prepared()
        settings = self._taken_at.settings()
        if prepared is None:
            return
        made = await self._frame.compute(
            "Making up a photograph", lambda: invented_photograph(prepared, settings)
        )
        if made is not None:
            self._files.put(self._key, made)
            self._load()

    def _load(self) -> None:
        held = self._files.get(self._key)
        if held is None:
            return
        self._table.set_visibility(True)
        self._invented.set_visibility(held.is_invented)
        self._loads += 1
        photograph = held.photograph
        self._face.load(f"{PATH}/{self._key}?{self._loads}", photograph.width, photograph.height)
        self._work = PhotographWork(photograph, self._grid)
        self._mode = "grid"
        self._show()

    def _take(self, step: Callable[[PhotographWork], PhotographWork]) -> None:
        """Go a quick step."""
        if self._work is None:
            return
        self._frame.say("")
        try:
            self._work = step(self._work)
        except GlowtraceError as error:
            self._frame.say(_sentence(error))
        self._show()

    async def _take_slowly(
        self, text: str, step: Callable[[PhotographWork], PhotographWork]
    ) -> None:
        """Go a step that takes a while."""
        work = self._work
        if work is None:
            return
        self._frame.say("")
        new = await self._frame.compute(text, lambda: step(work))
        if new is not None and self._work is work:
            self._work = new
        self._show()

    def _click(self, column: float, row: float) -> None:
        if self._mode == "grid":
            self._take(lambda work: work.click(column, row))
        else:
            self._take(lambda work: work.add_point(column, row))

    def _move(self, kind: str, number: int, column: float, row: float) -> None:
        if kind == "grid":
            self._take(lambda work: work.move_click(number, column, row))
        else:
            self._take(lambda work: work.move_point(number, column, row))

    def _remove(self, kind: str, number: int) -> None:
        if kind == "grid":
            self._take(lambda work: work.drop_click(number))
        else:
            self._take(lambda work: work.toggle_point(number))

    async def _find_grid(self) -> None:
        await self._take_slowly("Finding the grid", lambda work: work.found_grid())

    async def _find_line(self) -> None:
        shape = self._shape
        await self._take_slowly("Finding the line", lambda work: work.found_line(shape))
        if self._work is not None and self._work.line is not None:
            self._mode = "line"
            self._show()

    def _start_again(self) -> None:
        self._mode = "grid"
        self._take(lambda work: PhotographWork(work.photograph, work.grid))

    def _set_mode(self, mode: str) -> None:
        self._mode = mode
        self._show()

    def _set_shape(self, shape: str) -> None:
        self._shape = "loop" if shape == "loop" else "single-valued"

    # ---- prediction and readings -----------------------------------------------------------------

    def _set_predicted(self, is_on: bool) -> None:
        self._shows_predicted = is_on
        self._predict()

    def _predict(self) -> None:
        background_tasks.create(self._compute_prediction(), name="prediction")

    async def _compute_prediction(self) -> None:
        """Compute where the trace should lie, and show it."""
        work, settings = self._work, self._taken_at.settings()
        self._predicted = ()
        if self._shows_predicted and work is not None:
            found = work.screen_map
            prepared = await self._frame.prepared() if found is not None else None
            if found is not None and prepared is not None:
                lines = await self._frame.compute(
                    "Predicting the trace", lambda: predicted_lines(prepared, settings, found)
                )
                self._predicted = lines or ()
        self._show()

    def _use(self) -> None:
        self._frame.say("")
        work, held = self._work, self._files.get(self._key)
        try:
            if work is None or work.line is None or held is None:
                raise PhotographError("find the line in the photograph first")
            readings = readings_of_line(
                work.line,
                self._frame.bench.screen,
                self._taken_at.readings(),
                self._shape,
                self._frame.preparation.settings.plate_tie,
            )
        except GlowtraceError as error:
            self._frame.say(_sentence(error))
            return
        self._on_points(replace(readings, is_invented=held.is_invented))


def _sentence(error: Exception) -> str:
    text = str(error)
    return f"{text[:1].upper()}{text[1:]}"
