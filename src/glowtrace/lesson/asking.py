"""The questions that a bench and its settings lead to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from glowtrace.bench.files import settings_to_toml
from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.explain.accounts import WrongAccount
from glowtrace.lesson.meaning import ACCOUNTS, Meaning
from glowtrace.lesson.question import DRAWINGS, Choice, Question, screen_of
from glowtrace.words import say

NONE_OF_THEM: Final = "none"
MOST_ACCOUNTS: Final = 5


def prediction(plane: ScreenPlane, settings: Settings, told: str = "") -> Question:
    """Ask where the line or the spot will be.

    Parameters
    ----------
    plane, settings
        The screen, and what will be set.
    told
        What will be done, in words; put before the question.
    """
    ask = say(f"lesson.ask.predict.{plane.shows}")
    return Question(
        kind="predict",
        text=f"{told} {ask}".strip(),
        draws=DRAWINGS[plane.shows],
        choices=tuple(
            Choice(key=key, text=_choice_words(plane, key)) for key in _choices_for(plane)
        ),
        screen=screen_of(plane),
        settings_text=settings_to_toml(settings),
    )


def _choices_for(plane: ScreenPlane) -> tuple[str, ...]:
    if plane.is_spot:
        return ("straight", "up", "down", "left", "right", "none")
    return ("up", "down", "straight", "back", "none")


def _choice_words(plane: ScreenPlane, key: str) -> str:
    return say(f"lesson.choice.spot.{key}") if plane.is_spot else say(f"lesson.choice.{key}")


def about_accounts(
    accounts: Sequence[WrongAccount], settings: Settings, *, repeats: int = 0
) -> Question:
    """Ask which of the common accounts of this trace is true; most of them are not.

    Raises
    ------
    GlowtraceError
        There are none, as no electron flies.
    """
    if not accounts:
        raise GlowtraceError("No beam flies at these settings, so there is nothing to explain yet.")
    choices = [Choice(key=one.key, text=one.claim) for one in accounts[:MOST_ACCOUNTS]]
    return Question(
        kind="ask",
        text=say("lesson.ask.accounts"),
        choices=(*choices, Choice(key=NONE_OF_THEM, text=say("lesson.ask.none"))),
        settings_text=settings_to_toml(settings),
        repeats=repeats,
    )


def account_behind(meaning: Meaning, accounts: Sequence[WrongAccount]) -> WrongAccount | None:
    """Give the wrong account that may stand behind a prediction; None where none fits."""
    by_key = {one.key: one for one in accounts if one.verdict != "true here"}
    return next((by_key[key] for key in ACCOUNTS.get(meaning, ()) if key in by_key), None)
