"""The head of the page: name, menu of benches, bench files, saved settings, keys."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.web.controls import Picker, box, button, words
from glowtrace.web.keys import KeysDialog
from glowtrace.web.steps import Steps

LARGEST_FILE = 200_000
"""Bytes; a bench file has a few thousand."""
READ_FILE = f"""async (event) => {{
  const file = event.target.files[0];
  if (!file) return;
  const text = file.size > {LARGEST_FILE} ? null : await file.text();
  event.target.value = "";
  emit(file.name, text);
}}"""


class Header:
    """The head of the page.

    Parameters
    ----------
    on_pick
        Called with the place of the bench that was picked.
    on_file
        Called with name and text of a file; the text is None where the file is too large.
    on_saved
        Called when saved settings are wanted.
    """

    def __init__(
        self,
        on_pick: Callable[[str], object],
        on_file: Callable[[str, str | None], object],
        on_saved: Callable[[], None],
    ) -> None:
        self._on_file = on_file
        with box("header", "header"):
            words("Glowtrace", "h1")
            self._picker = Picker("Bench", on_pick)
            with box("plain", "label"):
                words("Open a bench file")
                chooser = ui.element("input").classes("visually-hidden")
                chooser.props('type="file" accept=".toml"')
                chooser.on("change", self._read, js_handler=READ_FILE)
            self._note = words("", css="header-note")
            with box("header-end"):
                button("Saved settings", on_saved, "plain")
                KeysDialog().button()
            self.steps = Steps("/")
        self.message = words("", "p", "message").props('role="alert"')

    def offer(self, groups: dict[str, dict[str, str]], chosen: str, note: str) -> None:
        """Show the benches that there are, the chosen one, and a note on it."""
        self._picker.offer(groups, chosen)
        self._note.text = note

    def _read(self, event: GenericEventArguments) -> object:
        name, text = event.args
        return self._on_file(str(name), None if text is None else str(text))
