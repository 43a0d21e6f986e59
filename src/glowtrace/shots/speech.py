"""How long words take, and how long a picture is held for them."""

from __future__ import annotations

import math
from typing import Final

WORDS_A_MINUTE: Final = 130.0
"""Read aloud to listeners: common practice, no source."""
BEFORE: Final = 2.0
"""s of still picture before and after the words, to cut in: common practice, no source."""
LEAST: Final = 6.0
"""s that any shot is held."""
LONGEST_SCRIPT: Final = 1000
"""Characters that may be said in a shot."""


def seconds_of(text: str) -> int:
    """Give the whole seconds that words take.

    Examples
    --------
    >>> seconds_of("The beam goes straight on."), seconds_of("")
    (3, 0)
    """
    return math.ceil(len(text.split()) * 60.0 / WORDS_A_MINUTE)


def hold_for(text: str) -> int:
    """Give the seconds that a shot with these words is held."""
    return int(max(LEAST, seconds_of(text) + 2.0 * BEFORE))
