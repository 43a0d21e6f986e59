"""In which order shots are filmed so that the fewest leads change between them.

Shots that stand on the same leads are filmed together, in the order of the story. Among the
orders of these groups the one with the fewest leads taken off and put on is found exactly (Held
and Karp's recursion over subsets, 1962; from memory); of several the one nearest to the story.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

from glowtrace.errors import GlowtraceError, Problem

Lead = tuple[str, str]
"""The two terminals that it joins, in alphabetical order."""
Leads = frozenset[Lead]
MOST: Final = 12
"""Different wirings that are put in order: the time doubles with each one more."""


@dataclass(frozen=True)
class Change:
    """Leads to take off and to put on."""

    off: tuple[Lead, ...]
    on: tuple[Lead, ...]


def lead(one: str, other: str) -> Lead:
    """Give the lead between two terminals."""
    first, second = sorted((one, other))
    return first, second


def changed(before: Leads, after: Leads) -> Change:
    """Give what changes between two wirings."""
    return Change(tuple(sorted(before - after)), tuple(sorted(after - before)))


def fewest_changes(wirings: Sequence[Leads | None]) -> tuple[int, ...]:
    """Give the places of shots in the order of filming.

    Parameters
    ----------
    wirings
        The leads of each shot, in the order of the story; None for one that may stand on any, as
        before anything is switched on. Such shots at the beginning stay there, later ones stay
        behind the shot before them.

    Raises
    ------
    GlowtraceError
        There are more than `MOST` different wirings.
    """
    groups: dict[Leads, list[int]] = {}
    first: list[int] = []
    home = first
    for place, wiring in enumerate(wirings):
        if wiring is not None:
            home = groups.setdefault(wiring, [])
        home.append(place)
    kinds = tuple(groups)
    if len(kinds) > MOST:
        allowed = f"up to {MOST} can be put in order: film the rest another time"
        raise GlowtraceError(Problem("different wirings", str(len(kinds)), allowed))

    @cache
    def best(last: int, others: frozenset[int]) -> tuple[int, tuple[int, ...]]:
        """Fewest changes of all orders of groups that end with one of them."""
        if not others:
            return 0, (last,)
        tried = []
        for previous in others:
            cost, order = best(previous, others - {previous})
            tried.append((cost + len(kinds[previous] ^ kinds[last]), (*order, last)))
        return min(tried)

    everything = frozenset(range(len(kinds)))
    orders = [best(last, everything - {last}) for last in everything]
    _, order = min(orders, default=(0, ()))
    return (*first, *(place for kind in order for place in groups[kinds[kind]]))
