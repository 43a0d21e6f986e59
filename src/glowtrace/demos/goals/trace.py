"""What an audience reads off a picture: the height of the line, and what went astray."""

from __future__ import annotations

import math

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Picture
from glowtrace.demos.kinematics import FloatArray

_NEIGHBOURS = 30
_SHARE = 0.15
"""Landings that a parabola is laid through to read one height: that share, and not fewer."""
_FEW = 8
_REACH = 0.004
"""How far in m beyond the last landing a line still counts as being there."""


def width(bench: Bench, picture: Picture, x: float) -> float:
    """Give the width in m of the trace at x; NaN where there is none."""
    plane = bench.plane
    if plane.is_line:
        landings = picture.landings
        u = plane.u_of(x)
        if len(landings) < _FEW or u > landings[:, 0].max() + _REACH:
            return math.nan
        return float(_heights(landings, np.array([u]))[1][0])
    trace = picture.mean_trace
    if plane.is_spot:
        return 2.0 * float(trace.width_v[0]) if len(trace.u) else math.nan
    found = trace.at(x)
    return math.nan if found is None else 2.0 * found[1]


def share(picture: Picture, *ends: str) -> float:
    """Give the share of electrons that ended on any of these."""
    return sum(picture.ends.get(end, 0) for end in ends) / max(1, sum(picture.ends.values()))


def _heights(landings: FloatArray, stations: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Read heights and widths (k,) off the landings around the stations (k,).

    At each station a parabola is laid through the nearest landings, the nearer the heavier
    (tricube weights).

    References
    ----------
    W. S. Cleveland, "Robust locally weighted regression and smoothing scatterplots", J. Amer.
    Stat. Assoc. 74 (1979) 829-836; without its robust second pass.
    """
    v = landings[:, 1]
    distance = landings[:, 0] - stations[:, None]
    count = min(max(_NEIGHBOURS, int(_SHARE * len(v))), len(v))
    reach = 1.05 * np.partition(np.abs(distance), count - 1, axis=1)[:, count - 1 : count] + 1e-12
    s = distance / reach
    weight = np.clip(1.0 - np.abs(s) ** 3, 0.0, None) ** 3
    powers = np.stack([weight * s**n for n in range(5)]).sum(axis=2)
    normal = np.stack([powers[n : n + 3] for n in range(3)]).transpose(2, 0, 1)
    right = np.stack([(weight * s**n) @ v for n in range(3)], axis=1)
    fit = np.linalg.solve(normal + 1e-12 * np.eye(3), right[:, :, None])[:, :, 0]
    off = v - (fit[:, :1] + s * (fit[:, 1:2] + s * fit[:, 2:3]))
    freedom = max(1e-3, 1.0 - 3.0 / count)
    variance = (weight * off**2).sum(axis=1) / weight.sum(axis=1) / freedom
    return np.asarray(fit[:, 0], dtype=np.float64), np.asarray(2.0 * np.sqrt(variance))


def room(bench: Bench) -> float:
    """Give the distance in m from the axis that a trace has on a screen and between the plates."""
    bottom, top = bench.plane.heights
    free = min(top, -bottom)
    return free if bench.plates is None else min(free, bench.plates.gap / 2)
