"""How likely it is that a hand draws this line when that one is there.

A hand is off as a whole, askew, and shaky: three errors that are independent of each other, the
same for somebody who drags points on a screen and, smaller, for a line read from a photograph.
Their sizes are common practice, no source. The shake of near points is alike, so that a line of a
hundred points says little more than one of ten. Now and then a line is drawn without care.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.faults.appearance import path_length
from glowtrace.faults.looks import Look

Array = NDArray[np.float64]

OFF, SHAKES, ASKEW = 0.5, 0.5, 8.0
"""A drawn line's common offset and its shake each way, as parts of its error, and its slope per m
of error."""
_MODEL = 1e-3
"""Standard deviation in m of what the model itself may be off by, as a whole."""
_BENDS_OFF = 0.03
"""Part of its bend that a line may be off by because meters are, and no two of the few sizes drawn
have the same: of a circle of radius r, what lies a height v above its start moves by v dr / r."""
_ALIKE = 1.0 / 8.0
"""Distance over which the shake stays alike, as a part of the line."""
_CARELESS, _WORSE = 0.05, 3.0
"""Part of the lines that are drawn without care, and how much larger all errors are then."""
_BENDS = 1.0 / 3.0
"""Distance over which a line of unknown cause goes one way, as a part of the line."""
_IMAGINED: Final = 1e-3
"""Chance of drawing a line where it is dark."""


def line_log_likelihood(
    points: Array,
    error: float,
    look: Look,
    height: tuple[float, float],
    usual: Look | None = None,
    between: float = 0.0,
) -> Array:
    """Give the logarithm (n,) of the likelihood of a drawn line for each draw of a fault.

    Parameters
    ----------
    points
        (p, 2) m on the screen, in order along the line; parts may be left out.
    error
        Standard deviation in m of the points across the line.
    look
        What is there.
    height
        (v0, v1) of the screen in m.
    usual
        What is there where nothing is wrong.
    between
        Sizes of a fault that lie between the drawn ones: how much more or less of what it does to
        the line each draw stands for, as a standard deviation in parts of that.
    """
    away = signed_distances(points, look.line)
    if usual is None:
        done = np.zeros_like(away)
    else:
        done = between * np.nan_to_num(signed_distances(points, usual.line) - away)
    found = _log_density(np.nan_to_num(away), hand_covariance(points, error), done)
    dark = math.log(_IMAGINED) + line_log_likelihood_anywhere(points, error, height)
    return np.where(np.isnan(away).any(axis=1), dark, found)


def line_log_likelihood_anywhere(points: Array, error: float, height: tuple[float, float]) -> float:
    """Give the same where nothing is known of the line but the screen that it is on."""
    v0, v1 = height
    along = path_length(points)
    wide = (v1 - v0) / math.sqrt(12.0)  # standard deviation of a height anywhere on the screen
    anywhere = wide**2 * _alike(along, _BENDS)
    away = points[None, :, 1] - 0.5 * (v0 + v1)
    covariance = hand_covariance(points, error) + anywhere
    return float(_log_density(away, covariance, np.zeros_like(away))[0])


def hand_covariance(points: Array, error: float) -> Array:
    """Give the covariance (p, p) in m^2 of the errors of a drawn line across it.

    Each error is a vector on the screen; across the line shows what it has along the normal there,
    so that a circle that is drawn too far to the right lies inside on one side.
    """
    normal = _normals(points)
    same_way = normal @ normal.T
    each = 0.5 * np.eye(len(points))  # half of the shake is each point's own
    shake = (SHAKES * error) ** 2 * (0.5 * _alike(path_length(points), _ALIKE) + each)
    lift = ASKEW * error * (points[:, 0] - points[0, 0]) * normal[:, 1]
    bend = _BENDS_OFF * (points[:, 1] - points[0, 1])
    whole = (OFF * error) ** 2 + _MODEL**2
    return np.asarray(same_way * (whole + shake) + np.outer(lift, lift) + np.outer(bend, bend))


def _normals(points: Array) -> Array:
    """Give unit vectors (p, 2) across a line of points (p, 2)."""
    if len(points) < 2:
        return np.tile([0.0, 1.0], (len(points), 1))
    du, dv = np.gradient(points, axis=0).T
    length = np.maximum(np.hypot(du, dv), 1e-12)
    return np.stack([-dv / length, du / length], axis=1)


def _alike(along: Array, part: float) -> Array:
    """Give correlations (p, p) that fall with the distance along a line."""
    reach = part * max(float(along[-1]), 1e-6)
    jitter = 1e-3 * np.eye(len(along))
    return np.asarray(np.exp(-np.abs(along[:, None] - along) / reach) + jitter)


def _log_density(away: Array, covariance: Array, vague: Array) -> Array:
    """Give the logarithm (n,) of the density of deviations (n, p); see `_CARELESS`.

    ``vague`` (n, p) adds to each draw's covariance its own product with itself (the formula of
    Sherman and Morrison, Ann. Math. Statist. 21 (1950) 124).
    """
    count = away.shape[1]
    root = np.linalg.cholesky(covariance)
    scaled, own = (np.linalg.solve(root, each.T) for each in (away, vague))
    grown = 1.0 + (own**2).sum(axis=0)
    squares = (scaled**2).sum(axis=0) - (scaled * own).sum(axis=0) ** 2 / grown
    constant = -np.log(np.diag(root)).sum() - 0.5 * np.log(grown)
    constant = constant - 0.5 * count * math.log(2.0 * math.pi)
    careful = math.log(1.0 - _CARELESS) - 0.5 * squares
    careless = math.log(_CARELESS) - count * math.log(_WORSE) - 0.5 * squares / _WORSE**2
    return np.asarray(constant + np.logaddexp(careful, careless))


def signed_distances(points: Array, lines: Array) -> Array:
    """Give the distance (n, p) of points (p, 2) from lines (n, m, 2), positive to their left.

    Where a line is none it is nan.
    """
    start, end = lines[:, None, :-1], lines[:, None, 1:]
    step = end - start
    square = np.maximum((step**2).sum(axis=-1), 1e-18)
    to = points[None, :, None] - start
    part = np.clip((to * step).sum(axis=-1) / square, 0.0, 1.0)
    distance = np.linalg.norm(to - part[..., None] * step, axis=-1)
    left = np.where(step[..., 0] * to[..., 1] - step[..., 1] * to[..., 0] < 0.0, -1.0, 1.0)
    nearest = distance.argmin(axis=-1)[..., None]
    signed = np.take_along_axis(left * distance, nearest, axis=-1)[..., 0]
    return np.asarray(signed)
