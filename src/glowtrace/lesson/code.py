"""The short code with which learners join."""

from __future__ import annotations

import re
import secrets
from typing import Final

LETTERS: Final = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
"""Letters and figures that nobody mistakes for each other: no I, L, O, 0 and 1."""
LENGTH: Final = 6
"""31^6 = 9e8: at 300 wrong tries a minute, the chance of a hit in four hours is 8e-5."""


def new_code() -> str:
    """Give a fresh code."""
    return "".join(secrets.choice(LETTERS) for _ in range(LENGTH))


def clean_code(text: str) -> str:
    """Give a code as it was meant: no blanks, no dashes, capitals.

    Examples
    --------
    >>> clean_code("k7m-2qx"), clean_code(" K7M 2QX ")
    ('K7M2QX', 'K7M2QX')
    """
    return re.sub(r"[\s-]+", "", text[:40]).upper()


def is_same(code: str, given: str) -> bool:
    """Compare two codes in a time that does not tell how much of them is alike."""
    return secrets.compare_digest(code.encode(), clean_code(given).encode())
