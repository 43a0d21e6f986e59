"""What a wrong account and its answer are made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

Verdict = Literal["not true", "partly true", "true here"]


class Told(NamedTuple):
    """A number of this trace that the answer rests on."""

    name: str
    value: str


@dataclass(frozen=True)
class WrongAccount:
    """A common account of what happens, judged by this trace."""

    key: str
    """A short name for links and tests."""
    claim: str
    """As it is often told."""
    verdict: Verdict
    short: str
    """The verdict in one sentence: in what, or when, it is true."""
    answer: str
    """Why, in plain words, with the numbers of this trace."""
    numbers: tuple[Told, ...]
    """The numbers that the answer rests on."""
