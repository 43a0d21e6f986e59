"""What is found, for people: a key and what goes with it, never a sentence.

`glowtrace.words` has a message for each key, in the language of the reader.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Quantity:
    """A number with its unit, to be written where it is told.

    The unit is the SI one, or a prefixed one ("mT") in which the number is to be written; the value
    is in SI in either case.
    """

    value: float
    unit: str


@dataclass(frozen=True)
class Finding:
    """A key, and by name what is put into its message."""

    key: str
    values: tuple[tuple[str, Told], ...] = ()


Told = Finding | Quantity | str
"""What can be told: a finding, a number with its unit, or words of the user's own."""


def finding(key: str, **values: Told) -> Finding:
    """Give a finding with what goes with it by name."""
    return Finding(key, tuple(values.items()))
