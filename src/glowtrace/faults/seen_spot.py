"""What can be said of a spot on an end face: its place, its size, and how it answers to knobs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from glowtrace.faults.looks import NOTICED, more_than
from glowtrace.faults.seen import Seen
from glowtrace.faults.statement import Looks, Statement
from glowtrace.faults.variations import AS_SET

Array = NDArray[np.float64]

_LONG, _LARGE_ENOUGH = 1.6, 1e-3
"""How much longer than wide a spot is called smeared, and from which radius in m that is seen."""


def _elsewhere(looks: Looks, usual: Looks) -> Array:
    away = np.linalg.norm(looks[AS_SET].centre - usual[AS_SET].centre, axis=1)
    return more_than(away, NOTICED)


def _too_large(looks: Looks, usual: Looks) -> Array:
    return more_than(looks[AS_SET].width, 1.4 * usual[AS_SET].width[0] + 0.5e-3, 0.4e-3)


def _too_small(looks: Looks, usual: Looks) -> Array:
    return more_than(-looks[AS_SET].width, -usual[AS_SET].width[0] / 1.4 + 0.3e-3, 0.4e-3)


def _smeared(looks: Looks, usual: Looks) -> Array:
    look = looks[AS_SET]
    is_long = more_than(np.log(look.stretch), np.log(_LONG), 0.15)
    return np.asarray(look.lit * is_long * more_than(look.width, _LARGE_ENOUGH, 0.3e-3))


SPOT = (
    Statement(Seen.ELSEWHERE, "line", _elsewhere),
    Statement(Seen.LARGE, "line", _too_large),
    Statement(Seen.SMALL, "line", _too_small),
    Statement(Seen.SMEARED, "line", _smeared, missed=0.15),
)


def spot_and_knob(way: str, key: str) -> list[Statement]:
    """Give what can be said of a spot after a knob is turned."""

    def stays(looks: Looks, usual: Looks) -> Array:
        before, after = looks[AS_SET], looks[key]
        grown = np.abs(np.log(after.width / before.width))
        moved = np.linalg.norm(after.centre - before.centre, axis=1)
        changed = np.maximum(more_than(grown, 0.3, 0.1), more_than(moved, NOTICED))
        return np.asarray(before.lit * after.lit * (1.0 - changed))

    return [Statement(Seen(f"{way}_stay"), "knobs", stays, tells=(key,))]


def spot_at_rest(key: str) -> Statement:
    """Give what can be said of a spot while neither coils nor plates act."""

    def is_aside(looks: Looks, usual: Looks) -> Array:
        return more_than(np.linalg.norm(looks[key].centre, axis=1), NOTICED)

    return Statement(Seen.AT_REST, "knobs", is_aside)
