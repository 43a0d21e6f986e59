"""Names and titles in one spelling: what looks the same must be the same."""

from __future__ import annotations

import unicodedata

from glowtrace.errors import StoreError
from glowtrace.store.schema import NAME_LENGTH


def clean_name(text: str, what: str = "name", longest: int = NAME_LENGTH) -> str:
    """Give a line of text in one spelling: composed characters, single spaces, none at the ends.

    Raises
    ------
    StoreError
        Nothing is left, it is longer than `longest`, or it has characters that cannot be seen.
    """
    clean = one_spelling(text)
    if not clean or len(clean) > longest or not clean.isprintable():
        raise StoreError(
            f"The {what} {text!r:.60} is not allowed; give 1 to {longest} printable characters."
        )
    return clean


def one_spelling(text: str) -> str:
    """Compose characters and make every stretch of space a single one."""
    return unicodedata.normalize("NFC", " ".join(text.split()))


def searchable(text: str) -> str:
    """Give text as a search compares it: one spelling, no upper case, nothing invisible."""
    seen = "".join(letter if letter.isprintable() else " " for letter in text)
    return one_spelling(one_spelling(seen).casefold())
