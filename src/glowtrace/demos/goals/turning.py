"""Where a path turns: points at which its height stops falling, or rising."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from glowtrace.demos.kinematics import FloatArray

_NOISE = 0.03
_FAR = 5.0


class Course(NamedTuple):
    """How far a beam has come in its dipping and rising."""

    depth: float
    """Height in m, without sign, of the first turning point; where the beam has not turned yet,
    the height that it has reached."""
    turning_x: float
    """x in m of the first turning point; NaN where there is none."""
    turns: float
    """Periods gone through: the whole way over twice the way to the turning point. Below one half
    where the beam has not turned yet, by where it would."""
    regained: float
    """Part of the depth by which it has come back at the end, 0 to 1; more if it comes further."""


def turning_points(x: FloatArray, y: FloatArray) -> list[tuple[float, float]]:
    """Give (x, y) in m of the points at which y has an extreme, by parabolas through three.

    Swings of less than `_NOISE` of the whole height are those of a few electrons' mean.
    """
    rises = np.diff(y)
    found: list[tuple[float, float]] = []
    last = 0.0
    sense = np.where(rises < 0, -1.0, 1.0)  # two equal heights in a row count as rising
    for n in np.flatnonzero(sense[:-1] * sense[1:] < 0):
        before, after = rises[n], rises[n + 1]
        s = 0.5 * (before + after) / (before - after)  # in steps from the middle point
        height = _parabola(y[n : n + 3], s)
        if abs(height - last) > _NOISE * np.ptp(y):
            found.append((_parabola(x[n : n + 3], s), height))
            last = height
    return found


def first_turning_point(x: FloatArray, y: FloatArray) -> tuple[float, float] | None:
    """Give the first of `turning_points`; None where there is none."""
    found = turning_points(x, y)
    return found[0] if found else None


def course(x: FloatArray, y: FloatArray) -> Course:
    """Tell how far a beam that leaves x = 0 level has come, from its path (m,) in m.

    A trochoid is at its turning point after half its pitch, so the place of the turning point
    tells what part of a period fits into the way.
    """
    turn = first_turning_point(x, y)
    way = float(x[-1])
    if turn is None:
        return Course(float(np.abs(y).max()), math.nan, way / (2 * _would_turn_at(x, y)), 0.0)
    along, height = turn
    regained = 1.0 - float(y[-1]) / height
    return Course(abs(height), along, way / (2 * along), regained)


def _would_turn_at(x: FloatArray, y: FloatArray) -> float:
    """Give the x in m at which a path that has not turned yet would do so.

    Its slope is taken to go on as over the last third of the way.
    """
    late = x >= x[0] + 2 * (x[-1] - x[0]) / 3
    fit = np.polyfit(x[late] - x[-1], y[late], 2)
    bend, slope = 2 * float(fit[0]), float(fit[1])
    ahead = -slope / bend if bend * slope < 0 else math.inf
    return float(x[-1]) + min(max(ahead, 0.0), _FAR * float(x[-1]))


def _parabola(three: FloatArray, s: float) -> float:
    """Give the parabola through values at -1, 0 and 1, at s."""
    before, middle, after = (float(value) for value in three)
    return middle + s * (after - before) / 2 + s * s * (after - 2 * middle + before) / 2
