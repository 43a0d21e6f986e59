"""The overlay that tells the keys."""

from __future__ import annotations

from nicegui import ui

from glowtrace.web.controls import box, button, words

EVERYWHERE = "Everywhere"
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
        "C": "hold the line to compare with, and let go of it",
        "Ctrl + Z": "take back the last turn of a knob",
    },
    "For the audience": {
        "B": "blank its window, and back",
        "H": "hold its picture still",
        "P": "point; on the screen also with the arrows",
        "F": "full screen, in its window",
    },
    EVERYWHERE: {
        "Tab, Shift + Tab": "next and previous control",
        "Space": "turn a switch",
        "?": "this list",
        "Esc": "close it",
    },
}

QUESTION_MARK = """
document.addEventListener("keydown", (event) => {
  const typed = "input:not([type=range]):not([type=radio]), select, textarea";
  const isTyping = event.target.matches(typed);
  if (event.key === "?" && !isTyping) document.getElementById("show-keys").click();
});
"""


class KeysDialog:
    """The overlay; the key "?" opens it. ``has_knobs``: whether the page has knobs and a screen."""

    def __init__(self, *, has_knobs: bool) -> None:
        told = KEYS if has_knobs else {EVERYWHERE: KEYS[EVERYWHERE]}
        with ui.dialog() as self._dialog, box("sheet"):
            words("Keys", "h2")
            for place, keys in told.items():
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
