"""The picture on the page: the rendering, with plates or bulb drawn round it."""

from __future__ import annotations

from html import escape
from typing import Final

from nicegui import ui

from glowtrace.light.assessment import Assessment
from glowtrace.report.light_picture import Seen
from glowtrace.web.controls import Choice, box, words
from glowtrace.web.surface import Surface
from glowtrace.words.light import margin_words, verdict_within

SEEN: Final[dict[str, str]] = {
    "room": "as in this room",
    "camera": "as the camera has it",
    "dark": "in full darkness",
}
_SAYS: Final[dict[Seen, str]] = {
    "room": "Rendered by a model of orders of magnitude, for eyes in the last row.",
    "camera": "Rendered by a model of orders of magnitude: what the camera takes, clipped and "
    "noisy as it is.",
    "dark": "The trace alone, as bright as the display can, whatever its luminance.",
}


class SeenPicture:
    """The figure. Building it puts it on the page.

    Parameters
    ----------
    surface
        Of the bench's screen.
    seen
        What is shown first.
    on_choose
        Called with what the visitor wants to see.
    """

    def __init__(self, surface: Surface, seen: Seen, on_choose: object) -> None:
        self._surface = surface
        with box("seen", "figure"):
            choice = Choice("Shown", SEEN, on_choose)  # type: ignore[arg-type]
            choice.put(seen)
            with box("seen-top"):
                self._verdict = words("", "p", "seen-verdict")
                self._face = ui.html("", sanitize=False).classes("seen-face")
            self._says = words(_SAYS[seen], "figcaption", "hint")

    def show(self, picture: str, seen: Seen, found: Assessment) -> None:
        """Show a picture, by its address, and in a few words what was found."""
        room, camera = (verdict_within(each) for each in (found.eye, found.camera))
        self._verdict.text = f"In the room {room}, on camera {camera}."
        description = f"The trace, rendered. In the room {room}: {margin_words(found.eye)}."
        self._face.content = draw_seen(self._surface, picture, description)
        self._says.text = _SAYS[seen]


def draw_seen(surface: Surface, picture: str, description: str) -> str:
    """Give the rendering in its surroundings as SVG, in millimetres of the screen."""
    left, right, bottom, top = surface.view_mm
    u0, u1, v0, v1 = surface.extent_mm
    turn = -1 if surface.mirrored else 1
    start, across = min(turn * left, turn * right), min(turn * u0, turn * u1)
    outlines = "".join(
        "M" + "L".join(f"{turn * u:.2f} {-v:.2f}" for u, v in line) for line in surface.outlines_mm
    )
    return (
        f'<svg viewBox="{start:.2f} {-top:.2f} {right - left:.2f} {top - bottom:.2f}" role="img" '
        f'aria-label="{escape(description, quote=True)}">'
        f'<image href="{picture}" x="{across:.3f}" y="{-v1:.3f}" width="{u1 - u0:.3f}" '
        f'height="{v1 - v0:.3f}" preserveAspectRatio="none"/>'
        f'<path class="drawn-outline" d="{outlines}"/></svg>'
    )
