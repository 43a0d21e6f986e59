"""What to change, each with its effect, and what makes the answer uncertain."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui import ui

from glowtrace.light.changes import Change
from glowtrace.light.doubts import Doubt
from glowtrace.light.verdict import Verdict
from glowtrace.web.controls import box, button, words
from glowtrace.web.preparation import Preparation
from glowtrace.words.light import (
    after_words,
    factor_words,
    practice_words,
    trust_name,
    trust_why,
)
from glowtrace.words.light_changes import change_advice, change_name, change_note


def put_changes(
    changes: Sequence[Change],
    eye: Verdict,
    preparation: Preparation,
    try_it: Callable[[Change], object],
) -> None:
    """Put the changes on the page, those that suffice first."""
    with box("light-changes", "section").props('aria-label="What to change"'):
        words("What to change", "h2")
        if not changes:
            words(
                "Nothing: the trace is surely seen."
                if eye.word == "surely"
                else "Nothing that this model knows: there is no trace, or nothing helps.",
                "p",
            )
        with box("light-change-list", "ul"):
            for change in changes:
                _put_change(change, preparation, try_it)


def _put_change(
    change: Change, preparation: Preparation, try_it: Callable[[Change], object]
) -> None:
    with box("light-change", "li"):
        with box("light-change-words"):
            words(change_name(change), "h3")
            words(change_advice(change), "p", "large")
            words(
                after_words(change.after),
                "p",
                f"light-effect is-{change.after.word.replace(' ', '-')}",
            )
            words(change_note(change), "p", "hint")
        with box("ways-on"):
            button("Try it here", lambda: try_it(change))
            if change.settings != preparation.settings:
                there = preparation.with_settings(change.settings).with_scene(change.scene)
                words("Rehearse this", "a", "key").props["href"] = there.at("/")
                words("Check its safety", "a", "key").props["href"] = there.at("/safety")


def put_doubts(doubts: Sequence[Doubt]) -> None:
    """Put what makes the answer uncertain on the page, the gravest first."""
    with box("light-doubts", "section").props('aria-label="What makes the answer uncertain"'):
        words("What makes the answer uncertain", "h2")
        with box("rows", "dl"):
            for doubt in doubts:
                with box("", "div"):
                    words(trust_name(doubt.trust), "dt")
                    words(factor_words(doubt.factor), "dd")
                    words(trust_why(doubt.trust), "dd", "hint row-note")


def put_practice() -> None:
    """Put what helps with any camera on the page."""
    with box("fold", "details"):
        words("With any camera", "summary")
        with ui.element("ul").classes("untold"):
            for line in practice_words():
                words(line, "li")
        words("Common practice, no source.", "p", "hint")
