"""What predictions mean, in words."""

from __future__ import annotations

from glowtrace.words.language import say


def meaning_words(meaning: str) -> str:
    """Say what a prediction means, by the key that `glowtrace.lesson.meaning` gives."""
    return say(f"lesson.meaning.{meaning.replace(' ', '_')}")
