"""Words, buttons, switches, choices and menus from the browser's own elements.

They bring keyboard, phone and screen-reader behaviour with them; `pieces.css` gives their look.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement
from nicegui.events import GenericEventArguments

VALUE = "(event) => emit(event.target.value)"
"""Sends the value of an input or a menu, and nothing else, to the server."""
TYPED = "^value"
"""Sets what a field shows first, as an attribute: what a person types then stays theirs, whatever
else changes on the page."""


def words(text: str, tag: str = "span", css: str = "") -> TextElement:
    """Put plain text on the page."""
    element = TextElement(tag=tag, text=text)
    return element.classes(css) if css else element


def hint(text: str) -> TextElement:
    """Put a sentence on the page that explains quietly."""
    return words(text, "p", "hint")


def box(css: str, tag: str = "div") -> ui.element:
    """Open an element that holds others."""
    return ui.element(tag).classes(css)


def button(label: str, on_click: Callable[[], object], css: str = "key") -> TextElement:
    """Put a button on the page."""
    element = words(label, "button", css).props('type="button"')
    element.on("click", on_click, args=[])
    return element


def field(
    value: str, on_change: Callable[[str], object] | None, label: str = "", hint: str = ""
) -> ui.element:
    """Put a field for text on the page.

    Parameters
    ----------
    value
        What stands in it first.
    on_change
        Is given what was typed; None where a form sends it.
    label, hint
        Its name where no label element has it, and what an empty one says.
    """
    entry = ui.element("input").classes("field")
    entry.props('type="text" autocomplete="off" spellcheck="false"')
    entry.props[TYPED] = value
    if label:
        entry.props["aria-label"] = label
    if hint:
        entry.props["placeholder"] = hint
    if on_change is not None:
        entry.on("change", lambda event: on_change(str(event.args)), js_handler=VALUE)
    return entry


def asked(
    label: str,
    value: str,
    on_change: Callable[[str], object] | None,
    css: str = "asked",
    hint: str = "",
) -> ui.element:
    """Put a field with its name on the page, beside it or, "labelled", over it."""
    with box(css, "label"):
        words(label)
        return field(value, on_change, hint=hint)


def complaint(text: str = "") -> TextElement:
    """Put a place for what is wrong with a field on the page; it hides where nothing is."""
    return words(text, "p", "field-complaint").props('role="alert"')


def file_button(label: str, accept: str, script: str, on_pick: Callable[..., object]) -> None:
    """Put a button on the page that lets the visitor choose a file.

    Parameters
    ----------
    label, accept
        What it says, and the kinds of file that it takes.
    script
        What the browser does with the file; `read_text` for one that is text.
    on_pick
        Called with what the script sends.
    """
    with box("plain", "label"):
        words(label)
        chooser = ui.element("input").classes("visually-hidden").props('type="file"')
        chooser.props["accept"] = accept
        chooser.on("change", on_pick, js_handler=script)


def read_text(largest: int) -> str:
    """Give the script that sends name and text of a file; no text where it has more bytes."""
    return f"""async (event) => {{
  const file = event.target.files[0];
  if (!file) return;
  const text = file.size > {largest} ? null : await file.text();
  event.target.value = "";
  emit(file.name, text);
}}"""


def put_rows(pairs: Iterable[tuple[str, str]]) -> None:
    """Put names with their values on the page, a row each."""
    with box("rows", "dl"):
        for name, value in pairs:
            with ui.element("div"):
                words(name, "dt")
                words(value, "dd")


def put_fact(name: str, value: str, note: str = "") -> None:
    """Put a large value with its name on the page, in a list of facts."""
    with box("fact", "div"):
        words(name, "dt")
        with ui.element("dd"):
            words(value, css="fact-value")
            if note:
                words(note, css="fact-note fine")


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
