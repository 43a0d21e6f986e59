"""The camera's picture as an element of the page."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any
from urllib.parse import quote

from nicegui import ui
from nicegui.events import GenericEventArguments


class CameraFace(ui.element, component="camera.js"):
    """The picture with its keys; the camera itself stays with the browser.

    Parameters
    ----------
    feed
        Path to which pictures are sent to be read.
    upload
        Path to which one picture is sent when it is handed on.
    hall
        Path to which pictures are sent that the audience sees.
    corners
        The four crossings that are clicked, in words.
    on_read
        Called with what was read or is to be told, as camera.js has it.
    on_handed
        Called once a picture was handed on, with what went wrong, if anything did.
    """

    def __init__(
        self,
        feed: str,
        upload: str,
        hall: str,
        corners: Sequence[str],
        on_read: Callable[[Mapping[str, Any]], object],
        on_handed: Callable[[str], object],
    ) -> None:
        super().__init__()
        self.props["feed"], self.props["upload"], self.props["hall"] = feed, upload, hall
        self.props["corners"] = list(corners)
        self.props["label"] = (
            "The camera’s picture with the computed and the read line; while crossings are "
            "clicked, arrow keys move the cross and Enter sets it"
        )

        def hear(event: GenericEventArguments) -> None:
            if isinstance(event.args, Mapping):
                on_read(event.args)

        self.on("read", hear)
        self.on("handed", lambda event: on_handed(str(event.args or "")))

    def put(self, shown: Mapping[str, Any]) -> None:
        """Give what is drawn over the picture."""
        self.run_method("put", shown)

    def share(self, is_wanted: bool) -> None:
        """Have the audience see the picture with its lines, or no longer."""
        self.run_method("share", is_wanted)

    def hand(self) -> None:
        """Have the picture as it is now sent on."""
        self.run_method("hand")


def feed_of(path: str, place: str) -> str:
    """Give the address to which the pictures of a bench are sent."""
    return f"{path}?bench={quote(place)}"
