"""Plain statements about what is seen, as buttons that stay down."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from typing import Final

from nicegui import ui

from glowtrace.faults import Statement
from glowtrace.web.controls import box, put_prop, words

QUESTIONS: Final = {
    "light": "Is there light?",
    "line": "Where does the {what} go, how does it look?",
    "knobs": "What moves the {what}?",
    "meters": "What do the meters show?",
}


class StatementsForm:
    """The statements by question.

    Parameters
    ----------
    what
        What is seen: "line" or "spot".
    on_say
        Called with the key of a statement, and whether it holds now.
    """

    def __init__(self, what: str, on_say: Callable[[str, bool], object]) -> None:
        self._what, self._on_say = what, on_say
        self._buttons: dict[str, ui.element] = {}
        self._box = box("statements")

    def offer(self, statements: Iterable[Statement], said: Iterable[str]) -> None:
        """Put the statements on the page, those that hold pressed."""
        offered, held = list(statements), set(said)
        self._box.clear()
        self._buttons = {}
        with self._box:
            words("Say all that you see: what you leave out counts a little too.", "p", "hint")
            for about, question in QUESTIONS.items():
                asked = [each for each in offered if each.about == about]
                if asked:
                    self._put(question.format(what=self._what), asked, held)

    def _put(self, question: str, asked: Iterable[Statement], held: set[str]) -> None:
        with box("statement-group").props('role="group"') as group:
            group.props["aria-label"] = question
            words(question, "h4")
            with box("statement-row"):
                for each in asked:
                    said = each.key.removeprefix(f"{self._what} ")
                    pressed = words(said, "button", "statement").props('type="button"')
                    put_prop(pressed, "aria-pressed", _claim(each.key in held))
                    pressed.on("click", partial(self._flip, each.key), args=[])
                    self._buttons[each.key] = pressed

    def _flip(self, key: str) -> None:
        pressed = self._buttons[key]
        holds = pressed.props["aria-pressed"] == "false"
        put_prop(pressed, "aria-pressed", _claim(holds))
        self._on_say(key, holds)


def _claim(holds: bool) -> str:
    return "true" if holds else "false"
