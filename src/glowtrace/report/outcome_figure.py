"""A map of what happens for two knobs, as a figure: each region its fill, its hatching, its label.

The fills are told apart by every kind of colour vision; hatching and labels tell them apart where
there is no colour at all.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    pass

_PIXELS_PER_INCH = 200
_NAME_SIZE, _TEXT_SIZE = 13.5, 9.5  # points
_LETTERS_PER_INCH = 14.4
