"""A photograph on its way to its line: choose it, find the screen, find and correct the line."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from nicegui.events import GenericEventArguments
from numpy.typing import NDArray

from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.photographs.grid_lines import printed_grid
from glowtrace.photographs.trace_line import Shape
from glowtrace.watching import Cancelled, Progress
from glowtrace.web.controls import Choice, box, button, file_button, hint, words
from glowtrace.web.frame import Frame
from glowtrace.web.measure.crossing_choice import CrossingChoice
from glowtrace.web.measure.invented_photograph import invented_photograph
from glowtrace.web.measure.photograph_face import PhotographFace, place_text
from glowtrace.web.measure.photograph_files import PATH, PhotographFiles, Received
from glowtrace.web.measure.photograph_line import put_findings
from glowtrace.web.measure.photograph_work import PhotographWork

Array = NDArray[np.float64]

SHAPES: Final[dict[str, str]] = {
    "single-valued": "goes along",
    "loop": "closes, loops or turns back",
}
PHOTOGRAPHS: Final = "image/jpeg,image/png,image/heic,.heic,.heif"
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


class PhotographDesk:
    """The photograph with what is done to it; hidden until it is wanted.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where photographs arrive.
    settings
        Gives what a made-up photograph is taken at.
    put_ways_on
        Puts on the page what can be done with the line.
    """

    def __init__(
        self,
        frame: Frame,
        files: PhotographFiles,
        settings: Callable[[], Settings],
        put_ways_on: Callable[[], object],
    ) -> None:
        self._frame, self._files, self._settings = frame, files, settings
        self._key = files.new_key()
        frame.body.client.on_delete(lambda: files.drop(self._key))
        self._grid = printed_grid(frame.bench)
        self._loads = 0
        self._is_busy = False
        self._mode = "grid"
        self._predicted: tuple[Array, ...] = ()
        is_gas = frame.bench.plane.glows
        self.work: PhotographWork | None = None
        self.shape: Shape = "loop" if is_gas else "single-valued"
        with box("photograph across", "section").props('aria-label="Photograph"') as self._box:
            self._put_on_page(put_ways_on)
        self._box.set_visibility(False)

    def open(self) -> bool:
        """Show it, or say why no photograph can be read on this bench; tell whether it is shown."""
        if self._frame.bench.plane.is_spot:
            self._frame.say(
                "A photograph cannot be read on this bench: an end face shows a spot, not a line."
            )
            return False
        self._box.set_visibility(True)
        return True

    def close(self) -> None:
        """Hide it; what was found stays."""
        self._box.set_visibility(False)

    def adopt(self, key: str) -> None:
        """Take the photograph that another page holds under its key."""
        handed = self._files.get(key)
        if handed is None:
            self._frame.say("The picture that was handed on is gone: hand it on again.")
            return
        self._files.put(self._key, handed)
        self._load()

    @property
    def held(self) -> Received | None:
        """The photograph's file, if there is one."""
        return self._files.get(self._key)

    def draw_predicted(self, lines: Sequence[Array]) -> None:
        """Draw where the trace should lie, in pixels of the photograph."""
        self._predicted = tuple(lines)
        self._show()

    # ---- on the page -----------------------------------------------------------------------------

    def _put_on_page(self, put_ways_on: Callable[[], object]) -> None:
        with box("row photograph-head"):
            words("Photograph", "h2")
            send = SEND.format(address=f"{PATH}/{self._key}")
            file_button("Choose a photograph (JPEG, PNG, HEIC)", PHOTOGRAPHS, send, self._arrives)
            button("Made-up photograph to try", self._invent, "plain")
            button("Close", self.close, "plain")
        with box("columns photograph-table") as self._table:
            self._face = PhotographFace(self._click, self._move, self._remove)
            with box("stack photograph-steps"):
                self._invented = words(
                    "An invented photograph: computed, not taken.", "p", "attention"
                )
                self._mode_choice = Choice("Clicks set", CLICKS, self._set_mode)
                self._prompt = words("", "p", "large").props('role="status"')
                self._crossing = CrossingChoice(self._grid, self._choose_crossing)
                self._grid_says = hint("")
                with box("ways-on"):
                    button("Find the grid", self._find_grid)
                    button("Start again", self._start_again)
                shapes = Choice("The line", SHAPES, self._set_shape)
                shapes.put(self.shape)
                with box("ways-on"):
                    button("Find the line", self._find_line)
                self._line_says = box("untold", "ul")
                put_ways_on()
        self._table.set_visibility(False)

    def _show(self) -> None:
        work = self.work
        if work is None:
            return
        self._mode_choice.put(self._mode)
        self._prompt.text = self._next_step(work)
        self._crossing.put(work.wanted if self._mode == "grid" else None)
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
            if work.needs_label and work.clicked:
                return "Now choose “Find the grid” again: one known crossing is enough."
            if work.needs_label:
                return f"Click the crossing at {place_text(*place)}, or choose another one."
            count = min(len(work.clicked) + 1, 4)
            return f"Click the crossing at {place_text(*place)} ({count} of 4)."
        if work.line is not None and not len(work.line.kept):
            return "No line was found in this photograph; nothing can be read from it so far."
        if work.line is None:
            return "The screen is found; look whether the small crosses lie on the grid."
        if self._mode == "line":
            return "Drag a point to correct it; Delete takes it out, or back; a click adds one."
        return "Choose “points of the line” to correct the line."

    # ---- steps -----------------------------------------------------------------------------------

    def _arrives(self, event: GenericEventArguments) -> None:
        state, text = event.args
        self._frame.show_working("Sending the photograph …" if state == "sending" else "")
        self._frame.say(sentence(text) if state == "failed" else "")
        if state == "sent":
            self._load()

    async def _invent(self) -> None:
        self._frame.say("")
        prepared = await self._frame.prepared()
        settings = self._settings()
        if prepared is None:
            return
        made = await self._frame.compute(
            "Making up a photograph", lambda: invented_photograph(prepared, settings)
        )
        if made is not None:
            self._files.put(self._key, made)
            self._load()

    def _load(self) -> None:
        held = self.held
        if held is None:
            return
        self._table.set_visibility(True)
        self._invented.set_visibility(held.is_invented)
        self._loads += 1
        photograph = held.photograph
        self._face.load(f"{PATH}/{self._key}?{self._loads}", photograph.width, photograph.height)
        self.work = PhotographWork(photograph, self._grid)
        self._mode = "grid"
        self._show()

    def _take(self, step: Callable[[PhotographWork], PhotographWork]) -> None:
        """Go a quick step."""
        if self.work is None:
            return
        self._frame.say("")
        try:
            self.work = step(self.work)
        except GlowtraceError as error:
            self._frame.say(sentence(error))
        self._show()

    async def _take_slowly(
        self, text: str, step: Callable[[PhotographWork, Progress, Cancelled], PhotographWork]
    ) -> None:
        """Go a step that takes a while; a second click while it lasts does nothing."""
        work = self.work
        if work is None or self._is_busy:
            return
        self._frame.say("")
        self._is_busy = True
        try:
            new = await self._frame.compute_long(
                text, lambda progress, cancelled: step(work, progress, cancelled)
            )
        finally:
            self._is_busy = False
        if new is not None and self.work is work:
            self.work = new
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
        await self._take_slowly(
            "Finding the grid",
            lambda work, progress, cancelled: work.found_grid(progress, cancelled),
        )

    async def _find_line(self) -> None:
        shape = self.shape
        if self.work is not None and self.work.screen_map is None:
            await self._find_grid()
        if self.work is None or self.work.screen_map is None:
            return
        await self._take_slowly("Finding the line", lambda work, _, __: work.found_line(shape))
        if self.work is not None and self.work.line is not None:
            self._mode = "line"
            self._show()

    def _choose_crossing(self, u: float, v: float) -> None:
        self._take(lambda work: work.choose((u, v)))

    def _start_again(self) -> None:
        self._mode = "grid"
        self._take(lambda work: PhotographWork(work.photograph, work.grid))

    def _set_mode(self, mode: str) -> None:
        self._mode = mode
        self._show()

    def _set_shape(self, shape: str) -> None:
        self.shape = "loop" if shape == "loop" else "single-valued"


def sentence(error: object) -> str:
    """Give an error's text with a capital letter."""
    text = str(error)
    return f"{text[:1].upper()}{text[1:]}"
