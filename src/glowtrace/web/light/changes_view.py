"""What to change, each with its effect, and what makes the answer uncertain."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui import ui

from glowtrace.light.answer import LightAnswer
from glowtrace.light.changes import Change
from glowtrace.light.doubts import Doubt
from glowtrace.web.controls import box, button, words
from glowtrace.web.preparation import Preparation
from glowtrace.words.light import (
    adaptation_words,
    factor_words,
    margin_words,
    model_words,
    nothing_to_change_words,
    practice_words,
    trust_name,
    trust_why,
    verdict_within,
)
from glowtrace.words.light_changes import change_advice, change_name, change_note

OPEN_DOUBTS, OPEN_CHANGES = 2, 3
"""Doubts and changes that stand open: the first ones; all of them can be unfolded."""


def put_changes(
    answer: LightAnswer, preparation: Preparation, try_it: Callable[[Change], object]
) -> None:
    """Put the changes on the page, those that suffice first; the first one is open."""
    with box("light-changes", "section").props('aria-label="What to change"'):
        words("What to change", "h2")
        if not answer.changes:
            words(nothing_to_change_words(answer), "p")
        first, others = answer.changes[:OPEN_CHANGES], answer.changes[OPEN_CHANGES:]
        with box("light-change-list", "ul"):
            for number, change in enumerate(first):
                _put_change(change, preparation, try_it, is_open=number == 0)
        if others:
            with box("fold", "details"):
                words(f"{len(others)} more", "summary")
                with box("light-change-list", "ul"):
                    for change in others:
                        _put_change(change, preparation, try_it, is_open=False)


def _put_change(
    change: Change,
    preparation: Preparation,
    try_it: Callable[[Change], object],
    *,
    is_open: bool,
) -> None:
    with box("light-change", "li"), box("fold", "details") as fold:
        fold.props["open"] = is_open
        with box("light-change-head", "summary"):
            words(change_name(change))
            words(f"then {verdict_within(change.after)}", css=_effect(change))
        words(change_advice(change), "p", "large")
        words(f"{margin_words(change.after)}.", "p", _effect(change))
        words(change_note(change), "p", "hint")
        with box("ways-on"):
            button("Try it here", lambda: try_it(change))
            if change.settings != preparation.settings:
                there = preparation.with_settings(change.settings).with_scene(change.scene)
                words("Rehearse this", "a", "key").props["href"] = there.at("/")
                words("Check its safety", "a", "key").props["href"] = there.at("/safety")


def _effect(change: Change) -> str:
    return f"light-effect is-{change.after.word.replace(' ', '-')}"


def put_doubts(doubts: Sequence[Doubt]) -> None:
    """Put what makes the answer uncertain on the page, the gravest first."""
    with box("light-doubts", "section").props('aria-label="What makes the answer uncertain"'):
        words("What makes the answer uncertain", "h2")
        with box("rows", "dl"):
            for doubt in doubts[:OPEN_DOUBTS]:
                with box("", "div"):
                    words(trust_name(doubt.trust), "dt")
                    words(factor_words(doubt.factor), "dd")
        with box("fold", "details"):
            words("All of it, and where it is from", "summary")
            with box("rows", "dl"):
                for doubt in doubts:
                    with box("", "div"):
                        words(trust_name(doubt.trust), "dt")
                        words(factor_words(doubt.factor), "dd")
                        words(trust_why(doubt.trust), "dd", "hint row-note")
            words(model_words(), "p", "hint")
            words(adaptation_words(), "p", "hint")


def put_practice() -> None:
    """Put what helps with any camera on the page."""
    with box("fold", "details"):
        words("With any camera", "summary")
        with ui.element("ul").classes("untold"):
            for line in practice_words():
                words(line, "li")
        words("Common practice, no source.", "p", "hint")
