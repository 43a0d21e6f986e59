"""The gridded screen as a page element."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.web.controls import put_prop
from glowtrace.web.surface import Surface

Place = tuple[float, float]


class GriddedScreen(ui.element, component="screen.js", esm={"glowtrace-drawing": "drawing"}):
    """The screen on the page: draws messages of `glow_message`, zooms, pans, tells places.

    Parameters
    ----------
    on_choose
        Called with the place u in m where the visitor clicked.
    """

    def __init__(self, surface: Surface, on_choose: Callable[[float], None]) -> None:
        super().__init__()
        self.set_surface(surface)
        self.on("choose", lambda event: on_choose(1e-3 * float(event.args)))

    def on_drawn(self, call: Callable[[int], None]) -> None:
        """Have something called with a picture's number once the picture stands on the page."""
        self.on("drawn", lambda event: call(int(event.args)))

    def on_undo(self, call: Callable[[], None]) -> None:
        """Have something called when the visitor takes back the last turn of a knob."""
        self.on("undo", call, args=[])

    def on_hold(self, call: Callable[[], None]) -> None:
        """Have something called when the visitor keeps the line to compare with, or lets it go."""
        self.on("hold", call, args=[])

    def put_tools(self, *, is_held: bool, can_undo: bool) -> None:
        """Say whether a line is kept, and whether there is a turn to be taken back."""
        put_prop(self, "holding", is_held)
        put_prop(self, "undoable", can_undo)

    def on_point(self, call: Callable[[Place | None], None]) -> None:
        """Have something called with the place (u, v) in m where the visitor points; None: nowhere.

        Only while `set_pointing` is on.
        """

        def hear(event: GenericEventArguments) -> None:
            place = event.args
            call(None if place is None else (1e-3 * float(place[0]), 1e-3 * float(place[1])))

        self.on("point", hear)

    def set_pointing(self, is_on: bool) -> None:
        """Let the hand over the picture point, or not."""
        put_prop(self, "pointing", is_on)

    def set_surface(self, surface: Surface) -> None:
        """Put another bench's screen on the page."""
        self.props["surface"] = asdict(surface)
        self.style(f"--glow: rgb{surface.glow}")

    def set_marker(self, u: float | None) -> None:
        """Mark a place u (m) along the screen; None removes the mark."""
        put_prop(self, "marker", None if u is None else 1e3 * u)

    def describe(self, text: str) -> None:
        """Say in words what the screen shows."""
        put_prop(self, "description", text)

    def show(self, message: dict[str, Any]) -> None:
        """Send a picture."""
        self.run_method("show", message)
