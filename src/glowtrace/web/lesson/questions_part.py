"""Questions of a lesson: ask, close, show, and what the answers mean."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from nicegui import ui

from glowtrace.lesson.asking import NONE_OF_THEM, account_behind
from glowtrace.lesson.live import LiveLesson
from glowtrace.web.controls import Switch, box, button, words
from glowtrace.web.lesson.audience_sees import choice_counts
from glowtrace.web.lesson.classroom import Classroom
from glowtrace.words.lesson import meaning_words

GROUPS_EVERY_S: Final = 0.5
"""Words change no faster than they are read; made anew at every answer they hold up the picture."""
SHOWN: Final = {
    "shows_invitation": "How to join",
    "shows_predictions": "Predictions",
    "shows_groups": "Groups",
    "shows_computed": "Computed picture",
    "shows_seen": "What was seen",
}
"""What the audience can see, in the order in which it is usually shown."""


class QuestionsPart:
    """The part. Building it puts the questions on the page, `put_answers` what comes of them.

    Parameters
    ----------
    classroom
        The lesson.
    on_predict, on_ask, on_ask_again
        Called when the teacher asks for predictions, for an account, or the same once more.
    on_draw
        Called when the hand is to draw what was seen, or no more.
    """

    def __init__(
        self,
        classroom: Classroom,
        on_predict: Callable[[], None],
        on_ask: Callable[[], None],
        on_ask_again: Callable[[], None],
        on_draw: Callable[[bool], None],
    ) -> None:
        self._classroom = classroom
        with box("stack", "section").props('aria-label="Questions"') as self._part:
            with box("row"):
                button("Ask for predictions", on_predict, "key is-main")
                button("Ask which account is true", on_ask)
                self._again = button("Ask that again", on_ask_again)
            self._asked = words("", "p", "large")
            self._close = button("Close the answers", self._toggle_answers)
            with box("row") as self._shown:
                words("The audience sees", css="choice-label")
                self._switches = {
                    name: Switch(label, self._put(name)) for name, label in SHOWN.items()
                }
        self._told: object = None
        self._on_draw = on_draw

    def put_answers(self) -> None:
        """Put on the page what was seen and what the answers mean, below the picture."""
        with box("stack", "section").props('aria-label="Answers"') as self._answers:
            with box("row"):
                self._drawing = Switch("Draw what was seen on the picture", self._on_draw)
                self._clear = button("Clear what was seen", self._clear_seen, "plain")
            self._groups = box("lesson-wide", "ul").props('aria-label="Answers by meaning"')
        ui.timer(GROUPS_EVERY_S, self._show_groups)

    def show(self) -> None:
        """Show how things are."""
        live = self._classroom.live
        self._part.set_visibility(live is not None)
        self._answers.set_visibility(live is not None and live.question is not None)
        if live is None:
            return
        question, state = live.question, live.state
        is_prediction = question is not None and question.kind == "predict"
        number = len(live.answers(state.question))
        late = live.late(state.question)
        text = "Nothing is asked." if question is None else question.text
        counted = f" {number} answered" if question is not None else ""
        self._asked.text = f"{text}{counted}{f', {late} too late' if late else ''}"
        self._close.set_visibility(question is not None)
        self._close.text = "Close the answers" if state.takes else "Take answers again"
        for name, switch in self._switches.items():
            switch.put(bool(getattr(state, name)))
            is_offered = name == "shows_invitation" or question is not None
            if name in ("shows_predictions", "shows_computed", "shows_seen"):
                is_offered = is_prediction
            switch.set_visibility(is_offered)
        self._drawing.set_visibility(is_prediction)
        self._clear.set_visibility(is_prediction and bool(state.seen))
        self._again.set_visibility(any(each.kind == "ask" for each in live.questions.values()))

    def _show_groups(self) -> None:
        told = self._rows(self._classroom.live)
        if told == self._told:
            return
        self._told = told
        self._groups.clear()
        with self._groups:
            for count, text, note in told:
                with box("lesson-group", "li"):
                    words(count, css="lesson-count")
                    with box(""):
                        words(text, "p")
                        if note:
                            words(note, "p", "hint")

    def _rows(self, live: LiveLesson | None) -> tuple[tuple[str, str, str], ...]:
        """Give count, words and a note of each group of answers."""
        if live is None:
            return ()
        number, question = live.state.question, live.question
        if question is None or question.kind == "read":
            return ()
        accounts = self._classroom.accounts(number)
        if question.kind == "predict":
            rows = []
            for group in self._classroom.groups(number):
                behind = account_behind(group.meaning, accounts)
                note = f"Perhaps: {behind.claim} But: {behind.short}" if behind else ""
                rows.append((f"{group.count}", meaning_words(group.meaning), note))
            return tuple(rows)
        by_key = {one.key: one for one in accounts}
        before = dict[str, int]()
        if question.repeats in live.questions:
            before = {key: n for key, _, n in choice_counts(live, question.repeats)}
        rows = []
        for key, text, count in choice_counts(live, number):
            shown = f"{before[key]} → {count}" if key in before else f"{count}"
            note = ""
            if key != NONE_OF_THEM and key in by_key:
                note = f"{by_key[key].verdict}. {by_key[key].short}"
            rows.append((shown, text, note))
        return tuple(rows)

    def _put(self, name: str) -> Callable[[bool], None]:
        def put(is_on: bool) -> None:
            if self._classroom.live is not None:
                self._classroom.live.put(**{name: is_on})

        return put

    def _toggle_answers(self) -> None:
        live = self._classroom.live
        if live is not None:
            live.put(takes=not live.state.takes)

    def _clear_seen(self) -> None:
        if self._classroom.live is not None:
            self._classroom.live.put(seen=())
