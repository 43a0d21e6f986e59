"""How each outcome looks on a map: a colour and a hatching of its own.

The hues are those that M. Okabe and K. Ito chose so that every kind of colour vision tells them
apart ("Color universal design", 2008; from memory); what fails is in earthy tones, what works is
bright. On paper the same colours are pale, and the hatching carries the difference.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

from matplotlib.colors import to_hex, to_rgb

from glowtrace.report.look import DARK, Look

_PALE: Final = 0.6
"""Share of white in a fill on paper."""


class Fill(NamedTuple):
    """A colour, and a hatching in the letters that matplotlib has for it."""

    colour: str
    hatch: str


FILLS: Final[Mapping[str, Fill]] = {
    "no beam": Fill("#1d1a16", ""),
    "leaves the screen": Fill("#4a4237", "//"),
    "hits the glass": Fill("#6b5f4d", "xx"),
    "hits the upper plate": Fill("#d55e00", "\\\\"),
    "hits the lower plate": Fill("#8a4a72", "--"),
    "returns to the anode": Fill("#7d7300", "||"),
    "keeps flying": Fill("#35505f", "++"),
    "full line": Fill("#0072b2", ""),
    "null": Fill("#f0e442", "oo"),
    "turns back": Fill("#56b4e9", ".."),
    "full circle": Fill("#009e73", "O"),
    "spot on the screen": Fill("#0072b2", ""),
    "focus after 1 turn": Fill("#f0e442", "oo"),
    "focus after 2 turns": Fill("#009e73", ".."),
    "focus after 3 turns": Fill("#56b4e9", "xx"),
    "focus after more turns": Fill("#cc79a7", "O"),
}
"""By the names of `glowtrace.demos.classification.KINDS`."""


def fill_of(outcome: str, look: Look) -> Fill:
    """Give the fill of an outcome in a look."""
    fill = FILLS[outcome]
    if look is DARK:
        return fill
    red, green, blue = (part + _PALE * (1 - part) for part in to_rgb(fill.colour))
    return fill._replace(colour=to_hex((red, green, blue)))
