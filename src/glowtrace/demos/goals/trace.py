"""What an audience reads off a picture: the course of the line, its height, what went astray."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from glowtrace.bench.model import Bench, EndFace, GasGlow, Screen, Sheet
from glowtrace.bench.picture import Picture
from glowtrace.demos.kinematics import FloatArray

_NEIGHBOURS = 30
_SHARE = 0.15
"""Landings that a parabola is laid through to read one height: that share, and not fewer."""
_FEW = 8
_REACH = 0.004
"""How far in m beyond the last landing a line still counts as being there."""


@dataclass(frozen=True, eq=False)
class Line:
    """The middle of the trace along its course, in bench coordinates."""

    x: FloatArray
    """(k,) m; z on an end face, which has one point only."""
    y: FloatArray
    """(k,) m."""
    width: FloatArray
    """(k,) two standard deviations in m."""


def line(bench: Bench, picture: Picture, count: int = 24) -> Line:
    """Give the trace's middle and width at points along it, in the order of flight."""
    screen = bench.screen
    if isinstance(screen, Sheet):
        scale = math.cos(screen.angle)
        if len(picture.landings) < _FEW:
            return _nothing()
        ends = np.quantile(picture.landings[:, 0], [0.0, 1.0])
        first = max(screen.x_from / scale, float(ends[0]))
        stations = np.linspace(first, min(screen.x_to / scale, float(ends[1])), count)
        heights = np.array([_height(picture.landings, u) for u in stations])
        return Line(stations * scale, heights[:, 0], heights[:, 1])
    trace = picture.mean_trace
    return Line(trace.u, trace.v, 2.0 * trace.width_v)


def height(bench: Bench, picture: Picture, x: float) -> tuple[float, float]:
    """Give height and width in m of the trace at x; NaN where there is none."""
    screen = bench.screen
    if isinstance(screen, Sheet):
        landings = picture.landings
        u = x / math.cos(screen.angle)
        if len(landings) < _FEW or u > landings[:, 0].max() + _REACH:
            return math.nan, math.nan
        return _height(landings, u)
    trace = picture.mean_trace
    if isinstance(screen, EndFace):
        if len(trace.u) == 0:
            return math.nan, math.nan
        return float(trace.v[0]), 2.0 * float(trace.width_v[0])
    found = trace.at(x)
    return (math.nan, math.nan) if found is None else (found[0], 2.0 * found[1])


def share(picture: Picture, *ends: str) -> float:
    """Give the share of electrons that ended on any of these."""
    return sum(picture.ends.get(end, 0) for end in ends) / max(1, sum(picture.ends.values()))


def shown_range(screen: Screen) -> tuple[float, float]:
    """Give the x in m from where to where a screen shows the beam."""
    if isinstance(screen, EndFace):
        return screen.x, screen.x
    return max(0.0, screen.x_from), screen.x_to


def shown_heights(screen: Screen) -> tuple[float, float]:
    """Give the lowest and the highest y in m that a screen shows."""
    if isinstance(screen, GasGlow):
        return screen.y_from, screen.y_to
    return -screen.height / 2, screen.height / 2


def _height(landings: FloatArray, u: float) -> tuple[float, float]:
    """Read height and width off the landings nearest to u: a parabola, the nearer the heavier."""
    distance = landings[:, 0] - u
    count = min(max(_NEIGHBOURS, int(_SHARE * len(landings))), len(landings))
    nearest = np.argpartition(np.abs(distance), count - 1)[:count]
    s, v = distance[nearest], landings[nearest, 1]
    reach = 1.05 * np.abs(s).max() + 1e-12
    s = s / reach
    weight = (1.0 - np.abs(s) ** 3) ** 3
    columns = np.stack([np.ones_like(s), s, s * s], axis=1)
    root = np.sqrt(weight)[:, None]
    fit = np.linalg.lstsq(columns * root, v * root[:, 0], rcond=None)[0]
    off = v - columns @ fit
    freedom = max(1e-3, 1.0 - 3.0 / count)
    return float(fit[0]), 2.0 * math.sqrt(float(weight @ off**2 / weight.sum()) / freedom)


def _nothing() -> Line:
    empty = np.zeros(0)
    return Line(empty, empty, empty)
