"""Parts of a sentence that are listed."""

from __future__ import annotations

from collections.abc import Sequence

from glowtrace.words.language import say


def listed(parts: Sequence[str]) -> str:
    """Join parts of a sentence with commas and a last "and"."""
    *before, last = parts
    return say("list.last", first=", ".join(before), last=last) if before else last
