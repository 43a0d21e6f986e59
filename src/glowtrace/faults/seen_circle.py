"""What can be said of a circle in gas: its size, whether it closes, where it is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from glowtrace.faults.looks import more_than
from glowtrace.faults.seen import Seen
from glowtrace.faults.statement import Looks, Statement
from glowtrace.faults.variations import AS_SET

Array = NDArray[np.float64]

_OF_SIZE = 1.15
"""Ratio of diameters from which one is called larger; common practice, no source."""
_JUDGED = 0.05
"""Standard deviation of the logarithm of a diameter that is judged by eye."""
BESIDE = 6e-3
"""m by which a circle stands beside its place, or leaves its plane, before it is said."""
_EGG = 0.06
"""Root mean square distance from a circle, as a part of its radius, from which one is an egg."""


def _size(looks: Looks, usual: Looks) -> Array:
    """Give the logarithm (n,) of the diameter against the usual one."""
    return np.asarray(np.log(looks[AS_SET].circle.radius / usual[AS_SET].circle.radius[0]))


def _too_large(looks: Looks, usual: Looks) -> Array:
    return more_than(_size(looks, usual), np.log(_OF_SIZE), _JUDGED)


def _too_small(looks: Looks, usual: Looks) -> Array:
    return more_than(-_size(looks, usual), np.log(_OF_SIZE), _JUDGED)


def _not_closed(looks: Looks, usual: Looks) -> Array:
    look = looks[AS_SET]
    return np.asarray(look.lit * (1.0 - look.is_kind(["full circle"])))


def _helix(looks: Looks, usual: Looks) -> Array:
    beside = more_than(looks[AS_SET].aside, BESIDE, BESIDE / 3.0)
    return np.asarray(looks[AS_SET].lit * _is_round(looks, usual) * beside)


def _off_centre(looks: Looks, usual: Looks) -> Array:
    found, expected = looks[AS_SET].circle, usual[AS_SET].circle
    beside = more_than(np.abs(found.centre[:, 0] - expected.centre[0, 0]), BESIDE, BESIDE / 3.0)
    egg = more_than(found.stray / found.radius, _EGG, _EGG / 3.0)
    return np.asarray(looks[AS_SET].lit * _is_round(looks, usual) * np.maximum(beside, egg))


def _is_round(looks: Looks, usual: Looks) -> Array:
    """Give 1 (n,) where enough of a circle is there to tell its centre; a bow has none."""
    is_round = looks[AS_SET].circle.radius < 2.0 * usual[AS_SET].circle.radius[0]
    return np.asarray(is_round, dtype=np.float64)


CIRCLE = (
    Statement(Seen.BENDS_LESS, "line", _too_large, missed=0.1),
    Statement(Seen.BENDS_MORE, "line", _too_small, missed=0.1),
    Statement(Seen.NOT_CLOSED, "line", _not_closed, missed=0.15),
    Statement(Seen.HELIX, "line", _helix, missed=0.15, wrong=0.02, includes=(Seen.NOT_CLOSED,)),
    Statement(Seen.OFF_CENTRE, "line", _off_centre, missed=0.2),
)
