"""The strip on the desk that opens the audience's window and steers it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement
from nicegui.events import GenericEventArguments

from glowtrace.units import QuantityError, shortest
from glowtrace.web.audience.audience import NARROWEST, WIDEST, WIDTH, Audience
from glowtrace.web.controls import VALUE, Choice, Switch, box, put_prop, words
from glowtrace.web.frame import Frame
from glowtrace.web.naming import read_field
from glowtrace.web.preparation import FARTHEST, NEAREST
from glowtrace.web.screen import GriddedScreen

WINDOW: Final = "/audience/"
OPEN: Final = f"""() => window.open("{WINDOW}", "_blank",
  `popup,noopener,width=${{screen.availWidth}},height=${{screen.availHeight}}`)"""
"""A window of its own, without a way back: browsers then draw it beside the desk and not in turn
with it."""
LOOKS: Final = {"dark": "dark", "light": "light"}
KEYS: Final = """
document.addEventListener("keydown", (event) => {
  const typed = "input:not([type=range]):not([type=radio]), select, textarea";
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.matches(typed)) return;
  document.querySelector(`[data-audience-key="${event.key.toLowerCase()}"]`)?.click();
});
"""


class AudienceStrip:
    """The strip. Building it puts it on the page.

    Parameters
    ----------
    audience
        That it steers.
    frame
        Of the page; the distance of the last row is that of its preparation.
    screen
        Over which the hand may point for the audience; None where there is none.
    """

    def __init__(
        self, audience: Audience, frame: Frame, screen: GriddedScreen | None = None
    ) -> None:
        self._audience, self._frame = audience, frame
        audience.change(distance=frame.preparation.scene.away)
        with box("fold audience-strip", "details"):
            self._summary = words("", "summary")
            button = words("Open the audience’s window", "button", "key")
            button.props('type="button"').on("click", js_handler=OPEN)
            self._told = words("", "p", "hint").props('role="status"')
            with box("halves small"):
                self._blank = self._switch("Blank", "b", audience.blank)
                self._hold = self._switch("Hold still", "h", audience.hold)
                if screen is not None:
                    self._put_pointing(screen)
                self._textbook = Switch("Textbook’s trace", self._set_textbook)
            self._look = Choice("Look", LOOKS, lambda look: audience.change(look=look))
            with box("halves"):
                self._distance = _LengthField("Last row", (NEAREST, FARTHEST), self._set_distance)
                self._width = _LengthField("Picture’s width", (NARROWEST, WIDEST), self._set_width)
        ui.add_body_html(f"<script>{KEYS}</script>")
        self._show()
        frame.body.client.on_delete(audience.listen(self._show))

    def _put_pointing(self, screen: GriddedScreen) -> None:
        def point(is_wanted: bool) -> None:
            screen.set_pointing(is_wanted)
            self._audience.point(None)

        self._switch("Point", "p", point)
        screen.on_point(self._audience.point)
        # No ring stays behind when the desk goes to another page.
        self._frame.body.client.on_delete(lambda: self._audience.point(None))

    def _switch(self, label: str, key: str, on_change: Callable[[bool], None]) -> Switch:
        switch = Switch(f"{label} ({key.upper()})", on_change)
        switch.props["data-audience-key"] = key
        return switch

    def _show(self) -> None:
        """Show how the audience sees it."""
        audience, manner = self._audience, self._audience.manner
        states = [
            name
            for name, is_on in (("blank", manner.is_blank), ("held still", audience.is_held))
            if is_on
        ]
        self._summary.text = ": ".join(["Audience", *([", ".join(states)] if states else [])])
        self._told.text = _told(audience)
        self._blank.put(manner.is_blank)
        self._hold.put(audience.is_held)
        self._textbook.put(manner.has_textbook)
        self._look.put(manner.look)
        self._distance.put(manner.distance)
        self._width.put(manner.width)

    def _set_textbook(self, is_wanted: bool) -> None:
        self._audience.change(has_textbook=is_wanted)

    def _set_distance(self, distance: float) -> None:
        preparation = self._frame.preparation
        scene = preparation.scene.model_copy(update={"away": distance})
        self._frame.keep(preparation.with_scene(scene))
        self._audience.change(distance=distance)

    def _set_width(self, width: float) -> None:
        self._frame.rack.remember(WIDTH, width)
        self._audience.change(width=width)


def _told(audience: Audience) -> str:
    """Say whether a window is open, and from where its letters are read."""
    if not audience.windows:
        return "No window is open. Move it to the projector; F fills the screen."
    reach, distance = audience.readable_from, audience.manner.distance
    if reach is None:
        return ""
    seen = f"Letters are read from {_metres(reach)}"
    if reach >= 0.99 * distance:
        return f"{seen}."
    return f"{seen} only, the last row is at {_metres(distance)}: show a wider picture."


def _metres(length: float) -> str:
    return f"{shortest(length, 2)} m"


class _LengthField(ui.element):
    """A length in m that is typed; what makes no sense is said beside it."""

    def __init__(
        self, label: str, reach: tuple[float, float], on_change: Callable[[float], None]
    ) -> None:
        super().__init__("div")
        self._label, self._reach, self._on_change = label, reach, on_change
        with self:
            with box("labelled", "label"):
                words(label)
                self._input = ui.element("input").classes("field")
                self._input.props('type="text" inputmode="decimal" autocomplete="off"')
            self._complaint: TextElement = words("", "p", "field-complaint").props('role="alert"')
        self._input.on("change", self._typed, js_handler=VALUE)

    def put(self, length: float) -> None:
        put_prop(self._input, "value", _metres(length))

    def _typed(self, event: GenericEventArguments) -> None:
        low, high = self._reach
        try:
            length = read_field(str(event.args), "m", "m")
        except QuantityError as error:
            self._complaint.text = str(error)
            return
        if not low <= length <= high:
            self._complaint.text = f"{_metres(length)}: give {_metres(low)} to {_metres(high)}"
            return
        self._complaint.text = ""
        self._on_change(length)
