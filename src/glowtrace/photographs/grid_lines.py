"""The printed lines of a screen's grid, and where they cross in a photograph."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from glowtrace.bench.model import Bench
from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.photograph import Photograph, linear_light

Array = NDArray[np.float64]

_EDGE: Final = 0.05
"""Lines nearer than this to the edge of the screen, in pitches, may not be printed."""
_REACH: Final = 0.22
"""How far beside its expected place a line is looked for, in pitches."""
_CLEAR: Final = 3.0
"""A line's contrast over noise from which a crossing counts."""
_SAMPLES: Final = 48
"""Samples across the place where a line is looked for, and along it."""
_SYSTEMATIC: Final = 0.15
"""Standard uncertainty in pixels that no crossing is believed to beat."""


@dataclass(frozen=True)
class PrintedGrid:
    """Where the lines of a screen's grid are printed."""

    u: tuple[float, ...]
    """m: the lines along v."""
    v: tuple[float, ...]
    """m: the lines along u."""
    pitch: float
    """m."""
    rectangle: tuple[float, float, float, float]
    """(u0, v0, u1, v1) of the screen in m."""


def printed_grid(bench: Bench) -> PrintedGrid:
    """Give the grid of a bench's screen: a line at every multiple of its pitch."""
    rectangle = bench.plane.rectangle
    pitch = bench.screen.grid_pitch
    u0, v0, u1, v1 = rectangle

    def lines(low: float, high: float) -> tuple[float, ...]:
        first, last = math.ceil(low / pitch + _EDGE), math.floor(high / pitch - _EDGE)
        return tuple(n * pitch for n in range(first, last + 1))

    return PrintedGrid(lines(u0, u1), lines(v0, v1), pitch, rectangle)


def grey(photograph: Photograph, block: int = 1) -> Array:
    """Light of all colours together, averaged over blocks (rows, columns)."""
    rows, columns = photograph.height // block, photograph.width // block
    total = np.zeros((rows, columns))
    for y in range(block):
        for x in range(block):
            part = photograph.pixels[y : rows * block : block, x : columns * block : block]
            total += linear_light(part).sum(axis=2)
    return total / (3 * block**2)


def grid_crossings(
    photograph: Photograph, rough: ScreenMap, grid: PrintedGrid
) -> tuple[GridPoint, ...]:
    """Find the crossings of the printed lines near where a rough map has them.

    Returns
    -------
    tuple
        The crossings at which both lines stand out, dark or bright, with their uncertainties.
    """
    light = grey(photograph)
    found = []
    for u in grid.u:
        for v in grid.v:
            point = _crossing(light, rough, grid, u, v)
            if point is not None:
                found.append(point)
    return tuple(found)


def _crossing(
    light: Array, rough: ScreenMap, grid: PrintedGrid, u: float, v: float
) -> GridPoint | None:
    """Crossing of the lines at u and at v, from the arms that leave it; None if not clear."""
    reach = _REACH * grid.pitch
    across = np.linspace(-reach, reach, _SAMPLES)
    arm = np.linspace(0.1, 0.4, _SAMPLES // 2) * grid.pitch
    u0, v0, u1, v1 = grid.rectangle
    offsets, errors = [], []
    for axis in range(2):
        shifts, sigmas = [], []
        for side in (-1.0, 1.0):
            along = side * arm
            places = np.empty((len(along), len(across), 2))
            places[:, :, axis] = (u, v)[axis] + across
            places[:, :, 1 - axis] = (u, v)[1 - axis] + along[:, None]
            outer = places[:, :, 1 - axis]
            if outer.min() < (v0, u0)[axis] or outer.max() > (v1, u1)[axis]:
                continue
            at = rough.pixels(places.reshape(-1, 2))
            cut = ndimage.map_coordinates(light, at.T[::-1], order=1, cval=np.nan)
            shift, sigma = _line_middle(cut.reshape(places.shape[:2]), across)
            if math.isfinite(shift):
                shifts.append(shift)
                sigmas.append(sigma)
        if not shifts:
            return None
        if len(shifts) == 2 and abs(shifts[0] - shifts[1]) > reach / 3:
            return None
        offsets.append(float(np.mean(shifts)))
        errors.append(float(np.hypot.reduce(sigmas)) / len(sigmas))
    place = np.array([[u, v]])
    moved = rough.pixels(place + np.array([offsets]))[0]
    scale = float(np.linalg.norm(rough.slopes(place)[0], axis=0).mean())
    error = math.hypot(scale * max(errors), _SYSTEMATIC)
    return GridPoint(u, v, float(moved[0]), float(moved[1]), error)


def _line_middle(cut: Array, across: Array) -> tuple[float, float]:
    """Middle of a line in cuts (n, w) across it, and its standard uncertainty; NaN if not clear."""
    profile = np.median(cut, axis=0)
    if not np.all(np.isfinite(profile)):
        return math.nan, math.nan
    edge = len(across) // 5
    x = across / across[-1]
    outer = np.r_[0:edge, len(x) - edge : len(x)]
    level = profile - np.polyval(np.polyfit(x[outer], profile[outer], 1), x)
    noise = float(np.std(level[outer])) + 1e-12
    smooth = ndimage.gaussian_filter1d(level, 1.5)
    top = int(np.abs(smooth[2:-2]).argmax()) + 2
    if abs(smooth[top]) < _CLEAR * noise or not edge / 2 < top < len(x) - edge / 2:
        return math.nan, math.nan
    sign = math.copysign(1.0, smooth[top])
    weight = np.clip(sign * level, 0.0, None) * (np.abs(np.arange(len(x)) - top) <= edge)
    weight[weight < 0.3 * weight.max()] = 0.0
    middle = float((weight * across).sum() / weight.sum())
    size = math.sqrt(float((weight * (across - middle) ** 2).sum() / weight.sum()))
    step = float(across[1] - across[0])
    sigma = noise / abs(smooth[top]) * math.sqrt(max(size, step) * step)
    return middle, sigma
