"""The stage as a page element: the electron on its path, its forces and energies at one instant."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

from nicegui import ui

Frame = Literal["laboratory", "moving", "both"]


class Stage(ui.element, component="stage.js", esm={"glowtrace-motion": "motion"}):
    """Draws messages of `stage_message`; scrubbing and playing happen in the browser alone.

    Parameters
    ----------
    frame
        By whom the motion is seen first.
    on_frame
        Called when the visitor changes that.
    """

    def __init__(self, frame: Frame, on_frame: Callable[[Frame], None]) -> None:
        super().__init__()
        self.props["frame0"] = frame
        self.on("frame", lambda event: on_frame(read_frame(str(event.args))))

    def show(self, message: dict[str, Any] | None) -> None:
        """Send a motion; None empties the stage."""
        self.run_method("show", message)


def read_frame(text: str | None) -> Frame:
    """Read by whom the motion is seen; what is no such word is the laboratory."""
    return "moving" if text == "moving" else "both" if text == "both" else "laboratory"
