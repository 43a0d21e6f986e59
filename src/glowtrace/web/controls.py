"""Words, buttons, switches, choices and menus from the browser's own elements.

They bring keyboard, phone and screen-reader behaviour with them; `pieces.css` gives their look.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement
from nicegui.events import GenericEventArguments

VALUE = "(event) => emit(event.target.value)"
"""Sends the value of an input or a menu, and nothing else, to the server."""


def words(text: str, tag: str = "span", css: str = "") -> TextElement:
    """Put plain text on the page."""
    element = TextElement(tag=tag, text=text)
    return element.classes(css) if css else element


def box(css: str, tag: str = "div") -> ui.element:
    """Open an element that holds others."""
    return ui.element(tag).classes(css)


def button(label: str, on_click: Callable[[], object], css: str = "key") -> TextElement:
    """Put a button on the page."""
    element = words(label, "button", css).props('type="button"')
    element.on("click", on_click, args=[])
    return element


def put_prop(element: ui.element, name: str, value: object) -> None:
    """Set a property of an element; the page hears of it only where it changes."""
    if name not in element.props or element.props[name] != value:
        element.props[name] = value


class Switch(ui.element):
    """A switch with its label; `on_change` hears of the visitor's clicks only."""

    def __init__(self, label: str, on_change: Callable[[bool], None]) -> None:
        super().__init__("button")
        self.props('type="button" role="switch"').classes("switch")
        self._on_change = on_change
        self.put(False)
        with self:
            words(label)
        self.on("click", self._flip, args=[])

    def put(self, is_on: bool) -> None:
        """Set the switch."""
        self._is_on = is_on
        put_prop(self, "aria-checked", "true" if is_on else "false")

    def _flip(self) -> None:
        self.put(not self._is_on)
        self._on_change(self._is_on)


class Choice(ui.element):
    """One of a few options, all in sight. The options map a value to the words shown."""

    def __init__(
        self, label: str, options: Mapping[str, str], on_change: Callable[[str], None]
    ) -> None:
        super().__init__("div")
        self.classes("choice").props('role="radiogroup"')
        self.props["aria-label"] = label
        self._on_change = on_change
        self._radios: dict[str, ui.element] = {}
        with self:
            words(label, css="choice-label")
            with box("choice-options"):
                for value, text in options.items():
                    with box("choice-option", "label"):
                        self._radios[value] = self._radio(value)
                        words(text)

    def _radio(self, value: str) -> ui.element:
        radio = ui.element("input").props('type="radio"')
        radio.props["name"] = f"choice-{self.id}"
        radio.props["value"] = value
        return radio.on("change", self._chosen, js_handler=VALUE)

    def put(self, value: str) -> None:
        """Choose an option."""
        for name, radio in self._radios.items():
            put_prop(radio, "checked", name == value)

    def _chosen(self, event: GenericEventArguments) -> None:
        self.put(str(event.args))
        self._on_change(str(event.args))


class Picker(ui.element):
    """A menu of names in groups."""

    def __init__(self, label: str, on_pick: Callable[[str], object]) -> None:
        super().__init__("select")
        self.classes("picker")
        self.props["aria-label"] = label
        self.on("change", lambda event: on_pick(str(event.args)), js_handler=VALUE)

    def offer(self, groups: Mapping[str, Mapping[str, str]], chosen: str) -> None:
        """Show options (value: label) by group, one of them chosen; empty groups are left out."""
        self.clear()
        with self:
            for group, options in groups.items():
                if not options:
                    continue
                with ui.element("optgroup") as shown:
                    shown.props["label"] = group
                    for value, label in options.items():
                        option = words(label, "option")
                        option.props["value"] = value
                        option.props["selected"] = value == chosen
