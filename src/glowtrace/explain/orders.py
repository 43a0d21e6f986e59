"""Sharing a change out among causes that were switched on together, fairly and without remainder.

What a cause adds depends on what is on already. Each order of switching them on gives one answer;
the share of a cause is its mean over all orders (the value of L. S. Shapley, "A value for n-person
games", *Contributions to the Theory of Games* II, Princeton 1953, pages 307-317). The shares add up
to the whole change exactly, and the smallest and largest answer tell how much the order matters.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations


@dataclass(frozen=True)
class Share:
    """What one cause adds."""

    cause: str
    mean: float
    """Over all orders."""
    least: float
    """In the order in which it adds least."""
    most: float
    alone: float
    """When it is switched on first of all (after what it needs)."""


def share_out(
    causes: Sequence[str],
    value: Callable[[frozenset[str]], float],
    needs: Mapping[str, str] | None = None,
) -> tuple[Share, ...]:
    """Share the change of a value out among its causes.

    Parameters
    ----------
    causes
        Up to about six; the work grows with two to their number.
    value
        The value with a set of causes on.
    needs
        For a cause that is nothing without another one, that other one: only orders in which it
        comes later are counted.

    Returns
    -------
    tuple of Share
        In the order of `causes`; the means add up to value(all) - value(none).

    Examples
    --------
    >>> areas = {"": 1.0, "a": 2.0, "b": 3.0, "ab": 6.0}
    >>> [each.mean for each in share_out("ab", lambda on: areas["".join(sorted(on))])]
    [2.0, 3.0]
    """
    needs = needs or {}
    known: dict[frozenset[str], float] = {}

    def at(on: frozenset[str]) -> float:
        if on not in known:
            known[on] = value(on)
        return known[on]

    added: dict[str, list[float]] = {cause: [] for cause in causes}
    for order in permutations(causes):
        if any(
            order.index(cause) < order.index(other)
            for cause, other in needs.items()
            if cause in order and other in order
        ):
            continue
        on: frozenset[str] = frozenset()
        for cause in order:
            added[cause].append(at(on | {cause}) - at(on))
            on = on | {cause}
    return tuple(
        Share(
            cause=cause,
            mean=sum(steps) / len(steps),
            least=min(steps),
            most=max(steps),
            alone=_alone(cause, at, needs.get(cause)),
        )
        for cause, steps in added.items()
    )


def _alone(cause: str, at: Callable[[frozenset[str]], float], needed: str | None) -> float:
    before: frozenset[str] = frozenset() if needed is None else frozenset([needed])
    return at(before | {cause}) - at(before)
