"""Plain statements about what is seen: each is seen, not seen, or not looked at.

A statement is a button that stays down where it is seen, with a second one, "no", that stays down
where it is not. Neither is down where nobody has looked.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from functools import partial
from typing import Final

from glowtrace.faults import Statement
from glowtrace.web.controls import box, put_prop, words
from glowtrace.words.faults import statement_words

QUESTIONS: Final = {
    "light": "Is there light?",
    "line": "Where does the {what} go, how does it look?",
    "waiting": "Wait two minutes: what does the {what} do?",
    "knobs": "What moves the {what}?",
    "meters": "What do the meters show?",
}
_ASKED_FIRST: Final = ("light", "line")
"""What a look at the screen tells; the other questions unfold."""
HINT: Final = (
    "Say all that you see; “no” where you have looked and it is not so. What you leave out counts "
    "a little too."
)


class StatementsForm:
    """The statements by question.

    Parameters
    ----------
    what
        What is seen: "line", "circle" or "spot".
    on_say
        Called with the key of a statement and whether it holds now; None: nobody has looked.
    """

    def __init__(self, what: str, on_say: Callable[[str, bool | None], object]) -> None:
        self._what, self._on_say = what, on_say
        self._holds: dict[str, bool | None] = {}
        self._box = box("statements")

    def offer(
        self, statements: Iterable[Statement], said: Collection[str], denied: Collection[str]
    ) -> None:
        """Put the statements on the page, those that are said or denied pressed."""
        offered = list(statements)
        self._holds = {
            each.key: True if each.key in said else False if each.key in denied else None
            for each in offered
        }
        self._box.clear()
        with self._box:
            words(HINT, "p", "hint")
            for about, question in QUESTIONS.items():
                asked = [each for each in offered if each.about == about]
                if asked:
                    self._put(question.format(what=self._what), asked, about in _ASKED_FIRST)

    def _put(self, question: str, asked: list[Statement], is_first: bool) -> None:
        kind, tag = ("statement-group", "div") if is_first else ("statement-group fold", "details")
        with box(kind, tag).props('role="group"') as group:
            group.props["aria-label"] = question
            if not is_first:
                group.props["open"] = any(self._holds[each.key] is not None for each in asked)
            words(question, "h3" if is_first else "summary")
            with box("row"):
                for each in asked:
                    self._put_statement(each)

    def _put_statement(self, statement: Statement) -> None:
        key, said = statement.key, statement_words(statement)
        for what in ("line", self._what):
            said = said.removeprefix(f"{what} ")
        with box("statement"):
            seen = words(said, "button", "statement-seen").props('type="button"')
            not_seen = words("no", "button", "statement-not").props('type="button"')
        not_seen.props["aria-label"] = f"Not seen: {said}"

        def show() -> None:
            put_prop(seen, "aria-pressed", _claim(self._holds[key] is True))
            put_prop(not_seen, "aria-pressed", _claim(self._holds[key] is False))

        def press(holds: bool) -> None:
            self._holds[key] = None if self._holds[key] is holds else holds
            show()
            self._on_say(key, self._holds[key])

        seen.on("click", partial(press, True), args=[])
        not_seen.on("click", partial(press, False), args=[])
        show()


def _claim(holds: bool) -> str:
    return "true" if holds else "false"
