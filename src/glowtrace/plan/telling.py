"""The part of a map that tells something: polarities that oppose, ranges where outcomes change."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import CODE, FOCUSES
from glowtrace.demos.goals.goal import Knob
from glowtrace.plan.outcomes import outcome_map
from glowtrace.watching import Cancelled

Range = tuple[float, float]

_SHOWN: Final = (
    "full line",
    "null",
    "turns back",
    "full circle",
    "spot on the screen",
    *FOCUSES,
)
"""Kinds of picture that one would want to show."""
_SIZE: Final = (24, 24)
_ELECTRONS: Final = 16
_ROUNDS: Final = 3
_BEYOND: Final = 1.15
"""How much further than what is shown a range goes, so that its end is on the map."""
_NARROWER: Final = 0.25
"""What is left of a range where nothing is shown: it is too coarse to see it."""


class TellingMap(NamedTuple):
    """What to map: settings with polarities that suit, and the two ranges in SI."""

    settings: Settings
    x_range: Range
    y_range: Range


def opposed(bench: Bench, settings: Settings) -> Settings:
    """Turn the coils' polarity so that coils and plates push against each other."""
    if bench.plates is None or bench.coils is None or bench.coils.kind != "pair":
        return settings
    return settings.model_copy(update={"coil_reversed": not settings.plate_reversed})


def telling_map(
    prepared: PreparedBench,
    settings: Settings,
    knob_x: Knob,
    knob_y: Knob,
    cancelled: Cancelled | None = None,
) -> TellingMap:
    """Choose polarities and ranges within the ratings so that a map shows where things change.

    Parameters
    ----------
    prepared, settings, knob_x, knob_y, cancelled
        As for `glowtrace.plan.outcomes.outcome_map`.
    """
    settings = opposed(prepared.bench, settings)
    known = knob_ranges(prepared.bench)
    ranges = [known[knob][:2] for knob in (knob_x, knob_y)]
    for _ in range(_ROUNDS):
        coarse = outcome_map(
            prepared, settings, knob_x, knob_y, x_range=ranges[0], y_range=ranges[1],
            size=_SIZE, electrons=_ELECTRONS, cancelled=cancelled,
        )  # fmt: skip
        shown = np.isin(coarse.codes, [CODE[kind] for kind in _SHOWN])
        narrower = [
            _narrowed(along, np.asarray(shown.any(axis=axis)), whole)
            for along, axis, whole in ((coarse.x, 0, ranges[0]), (coarse.y, 1, ranges[1]))
        ]
        if narrower == ranges:
            break
        ranges = narrower
    return TellingMap(settings, ranges[0], ranges[1])


def _narrowed(along: NDArray[np.float64], shown: NDArray[np.bool_], whole: Range) -> Range:
    """Give the range from its low end to a little beyond the last place with something shown."""
    low, high = whole
    if not shown.any():
        wanted = low + _NARROWER * (high - low)
    else:
        wanted = low + _BEYOND * (float(along[np.flatnonzero(shown)[-1]]) - low)
    return low, min(high, float(f"{max(wanted, low + 0.02 * (high - low)):.1e}"))
