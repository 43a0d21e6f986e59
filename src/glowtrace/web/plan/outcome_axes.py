"""Which two knobs a map has, and from where to where."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal, cast

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import knob_ranges, knobs_of
from glowtrace.demos.goals import Knob
from glowtrace.web.address import fragment

Reach = tuple[float, float]
BETWEEN = "_"
"""Between the ends of a range in an address; numbers have "-" and "." themselves."""


Side = Literal["across", "up"]


@dataclass(frozen=True)
class Axes:
    """The knob across and the one up, with their ranges in SI."""

    across: Knob
    up: Knob
    reach_across: Reach
    reach_up: Reach

    def with_side(self, side: Side, knob: Knob, reach: Reach) -> Axes:
        """Give the axes with another knob or range on a side."""
        if side == "across":
            return replace(self, across=knob, reach_across=reach)
        return replace(self, up=knob, reach_up=reach)

    @property
    def query(self) -> str:
        """The end of a query, with a leading "&"."""
        told = {
            "across": self.across,
            "across.range": BETWEEN.join(map(repr, self.reach_across)),
            "up": self.up,
            "up.range": BETWEEN.join(map(repr, self.reach_up)),
        }
        return fragment(told)


def whole_range(bench: Bench, knob: Knob) -> Reach:
    """Give all that the ratings allow of a knob."""
    low, high, _ = knob_ranges(bench)[knob]
    return low, high


def offered_knobs(bench: Bench) -> tuple[Knob, ...]:
    """Give the knobs that a bench has."""
    return cast(tuple[Knob, ...], knobs_of(bench))


def usual_axes(bench: Bench) -> Axes:
    """Give the two knobs that say most: the last two that the bench has."""
    across, up = offered_knobs(bench)[-2:]
    return Axes(across, up, whole_range(bench, across), whole_range(bench, up))


def read_axes(query: Mapping[str, str], bench: Bench) -> Axes:
    """Read the axes from a query; what it does not tell, or wrongly, is as usual."""
    usual = usual_axes(bench)
    across, up = query.get("across", usual.across), query.get("up", usual.up)
    known: dict[str, Knob] = {knob: knob for knob in offered_knobs(bench)}
    if across not in known or up not in known or across == up:
        return usual
    return Axes(
        known[across],
        known[up],
        _reach(query.get("across.range"), known[across]) or whole_range(bench, known[across]),
        _reach(query.get("up.range"), known[up]) or whole_range(bench, known[up]),
    )


def _reach(text: str | None, knob: Knob) -> Reach | None:
    try:
        low, high = map(float, (text or "").split(BETWEEN))
    except ValueError:
        return None
    if low < 0 and knob == "accelerating_voltage":
        return None
    return (low, high) if -math.inf < low < high < math.inf else None
