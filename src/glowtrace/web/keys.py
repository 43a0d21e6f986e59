"""The overlay that tells the keys."""

from __future__ import annotations

from nicegui import ui

from glowtrace.web.controls import box, button, words

KEYS = {
    "On a knob": {
        "← → or ↑ ↓": "fine step",
        "Shift + arrow": "coarse step",
        "Page Up, Page Down": "coarse step",
        "Home, End": "lowest and highest setting",
        "type, then Enter": "a value, on the large number",
    },
    "On the screen": {
        "+ −": "zoom; also wheel and pinch",
        "arrows": "move the enlarged picture",
        "0": "the whole screen",
        "click": "read the deflection there",
    },
    "Everywhere": {
        "Tab, Shift + Tab": "next and previous control",
        "Space": "turn a switch",
        "?": "this list",
        "Esc": "close it",
    },
}

QUESTION_MARK = """
document.addEventListener("keydown", (event) => {
  const isTyping = event.target.matches("input:not([type=range]):not([type=radio]), select");
  if (event.key === "?" && !isTyping) document.getElementById("show-keys").click();
});
"""


class KeysDialog:
    """The overlay; the key "?" opens it."""

    def __init__(self) -> None:
        with ui.dialog() as self._dialog, box("sheet"):
            words("Keys", "h2")
            for place, keys in KEYS.items():
                words(place, "h3")
                with box("keys", "dl"):
                    for key, meaning in keys.items():
                        words(key, "dt")
                        words(meaning, "dd")
        ui.add_body_html(f"<script>{QUESTION_MARK}</script>")

    def button(self) -> None:
        """Put the button on the page that opens the overlay."""
        opener = button("?", self._dialog.open)
        opener.props["id"] = "show-keys"
        opener.props["aria-label"] = "Keys (?)"
