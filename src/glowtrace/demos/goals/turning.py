"""Where a path turns: points at which its height stops falling, or rising."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from glowtrace.demos.kinematics import FloatArray

_NOISE = 0.03


class Course(NamedTuple):
    """How far a beam has come in its dipping and rising."""

    depth: float
    """Largest height in m that it turned at, without sign; where it has not turned yet, the
    height that it has reached."""
    turning_x: float
    """x in m of the first turning point; NaN where there is none."""
    turns: float
    """Periods gone through: one half at the first turning point, one back at the top."""


def turning_points(x: FloatArray, y: FloatArray) -> list[tuple[float, float]]:
    """Give (x, y) in m of the points at which y has an extreme, by parabolas through three.

    Swings of less than `_NOISE` of the whole height are those of a few electrons' mean.
    """
    rises = np.diff(y)
    found: list[tuple[float, float]] = []
    last = 0.0
    for n in np.flatnonzero(rises[:-1] * rises[1:] < 0):
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


def course(x: FloatArray, y: FloatArray, expected_depth: float) -> Course:
    """Tell how far a beam that enters level at height 0 has come, from its path (m,) in m.

    A trochoid has the height y = depth sin^2(phase / 2), so the height tells the phase. Before
    the first turning point the depth is not known yet; the expected one stands in for it.
    """
    turns = [(x[0], 0.0), *turning_points(x, y)]
    legs = len(turns) - 1
    last_y = turns[-1][1]
    depth = abs(turns[1][1]) if legs else expected_depth
    swing = abs(last_y - turns[-2][1]) if legs else expected_depth
    part = float(np.clip(abs(y[-1] - last_y) / swing, 0.0, 1.0)) if swing > 0 else 0.0
    phase = 2.0 * np.arcsin(np.sqrt(part)) / (2.0 * np.pi)
    turning_x = float(turns[1][0]) if legs else float("nan")
    reached = depth if legs else float(np.abs(y).max())
    return Course(reached, turning_x, 0.5 * legs + float(phase))


def _parabola(three: FloatArray, s: float) -> float:
    """Give the parabola through values at -1, 0 and 1, at s."""
    before, middle, after = (float(value) for value in three)
    return middle + s * (after - before) / 2 + s * s * (after - 2 * middle + before) / 2
