"""The screen on the desk with the learners' lines."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.lesson.live import Given
from glowtrace.web.controls import put_prop
from glowtrace.web.surface import Surface

DRAWING: Final = str(Path(__file__).parents[1] / "drawing")
Line = tuple[tuple[float, float], ...]


class PredictionScreen(ui.element, component="predictions.js", esm={"glowtrace-drawing": DRAWING}):
    """The screen. Only lines that are new or were changed go to the browser.

    Parameters
    ----------
    surface
        What is drawn on.
    on_seen
        Called with a line of places (u, v) in m that the teacher drew.
    """

    def __init__(self, surface: Surface, on_seen: Callable[[Line], None]) -> None:
        super().__init__()
        self.props["surface"] = asdict(surface)
        self.style(f"--glow: rgb{surface.glow}")
        self._sent: dict[str, int] = {}
        self._question = 0
        self._seen: tuple[Line, ...] = ()

        def hear(event: GenericEventArguments) -> None:
            on_seen(tuple((1e-3 * float(u), 1e-3 * float(v)) for u, v in event.args))

        self.on("seen", hear)

    def describe(self, text: str) -> None:
        """Say in words what it shows."""
        put_prop(self, "description", text)

    def hide_picture(self, is_wanted: bool) -> None:
        """Leave the computed picture out, or show it."""
        put_prop(self, "hidesPicture", is_wanted)

    def let_draw(self, is_wanted: bool) -> None:
        """Let the hand draw what was seen."""
        put_prop(self, "drawing", is_wanted)

    def show(self, message: dict[str, Any]) -> None:
        """Show a computed picture, as `glow_message` gives it."""
        self.run_method("show", message)

    def put(self, question: int, given: Iterable[Given]) -> None:
        """Show the lines of a question."""
        anew = question != self._question
        if anew:
            self._question, self._sent = question, {}
        new = [one for one in given if self._sent.get(one.learner) != one.sequence]
        if new or anew:
            self._sent |= {one.learner: one.sequence for one in new}
            lines = [(one.learner, one.answer.line) for one in new]
            self.run_method("put", lines, anew)

    def put_seen(self, seen: tuple[Line, ...]) -> None:
        """Show what was seen; places in m."""
        if seen != self._seen:
            self._seen = seen
            self.run_method("putSeen", [[(1e3 * u, 1e3 * v) for u, v in line] for line in seen])
