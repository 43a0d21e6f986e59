"""How far the pieces of a screen's printed lines lie from their places; the steps at its border."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.compiled import compiled
from glowtrace.films.layout import Layout, Pieces
from glowtrace.films.square_on import Light

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Whole = NDArray[np.int64]

_CLEAR_DEPTH: Final = 4.0
"""How far a line must stand out of the scatter beside it."""
_DEPTHS: Final = 0.05, 0.95
"""Least and most of the light that a printed line takes, or gives where it is bright."""
_FLANK: Final = 0.55
"""Part of the reach from which on the paper beside a line is seen."""


@dataclass(frozen=True, eq=False)
class SeenPieces:
    """What is seen at pieces of printed line (p,)."""

    is_seen: Mask
    offset: Array
    """In pixels, across the piece."""


def seen_pieces(light: Light, layout: Layout, darker: float) -> SeenPieces:
    """Measure the pieces of the printed lines; `darker` is -1 where these are brighter."""
    offset, depth, scatter, level = _measured(light, layout.pieces, layout.reach, darker)
    relative = depth / np.maximum(level, 1e-9)
    is_seen = (depth > _CLEAR_DEPTH * scatter) & (np.abs(offset) < 0.7 * layout.reach)
    is_seen &= (relative > _DEPTHS[0]) & (relative < _DEPTHS[1])
    return SeenPieces(is_seen, offset)


def grid_sign(light: Light, layout: Layout) -> float:
    """Say whether the printed lines are darker (1) or brighter (-1) than the paper."""
    dark, bright = (int(seen_pieces(light, layout, sign).is_seen.sum()) for sign in (1.0, -1.0))
    return 1.0 if dark >= bright else -1.0


def border_steps(light: Light, layout: Layout) -> Array:
    """Give the steps of light (p,) over the border, inside minus outside, relative to both."""
    pieces = layout.border
    inside = np.where((pieces.side % 2) == 0, 1.0, -1.0)
    steps: Array = inside * _steps(
        light, pieces.axis, pieces.across, pieces.start, pieces.stop, layout.reach
    )
    return steps


def _measured(
    light: Light, pieces: Pieces, reach: int, darker: float
) -> tuple[Array, Array, Array, Array]:
    out = np.zeros((4, len(pieces.axis)))
    _measure(
        light,
        pieces.axis,
        pieces.across,
        pieces.start,
        pieces.stop,
        reach,
        _FLANK * reach,
        darker,
        out,
    )
    return out[0], out[1], out[2], out[3]


@compiled()
def _measure(
    light: Light,
    axis: Whole,
    across: Array,
    start: Whole,
    stop: Whole,
    reach: int,
    flank: float,
    darker: float,
    out: Array,
) -> None:
    """Offset, depth, scatter of the flanks, and level at pieces, from their mean profiles."""
    wide = 2 * reach + 1
    profile, x = np.empty(wide), np.empty(wide)
    for p in range(len(axis)):
        middle = int(np.rint(across[p]))
        n = s0 = s1 = s2 = t0 = t1 = 0.0
        for k in range(wide):
            at = middle - reach + k
            x[k] = at - across[p]
            total = 0.0
            for along in range(start[p], stop[p]):
                total += light[along, at] if axis[p] == 0 else light[at, along]
            profile[k] = total / (stop[p] - start[p])
            if abs(x[k]) >= flank:
                n, s1, s2 = n + 1.0, s1 + x[k], s2 + x[k] * x[k]
                t0, t1 = t0 + profile[k], t1 + profile[k] * x[k]
        s0 = n * s2 - s1 * s1
        slope = (n * t1 - s1 * t0) / s0
        level = (t0 - slope * s1) / n
        depth, scatter = 0.0, 0.0
        for k in range(wide):
            profile[k] = darker * (level + slope * x[k] - profile[k])
            if abs(x[k]) >= flank:
                scatter += profile[k] * profile[k]
            elif profile[k] > depth:
                depth = profile[k]
        weight = moment = 0.0
        for k in range(wide):
            w = profile[k] - 0.3 * depth
            if w > 0.0 and abs(x[k]) < 0.75 * reach:
                weight, moment = weight + w, moment + w * x[k]
        out[0, p] = moment / weight if weight > 0.0 else 0.0
        out[1, p], out[2, p], out[3, p] = depth, np.sqrt(scatter / n), level


@compiled()
def _steps(
    light: Light, axis: Whole, across: Array, start: Whole, stop: Whole, reach: int
) -> Array:
    """Light behind minus light before pieces, relative to both."""
    out = np.zeros(len(axis))
    near = 0.25 * reach
    for p in range(len(axis)):
        middle = int(np.rint(across[p]))
        before = behind = 0.0
        for k in range(-reach, reach + 1):
            x = middle + k - across[p]
            if abs(x) < near:
                continue
            total = 0.0
            for along in range(start[p], stop[p]):
                total += light[along, middle + k] if axis[p] == 0 else light[middle + k, along]
            if x < 0:
                before += total
            else:
                behind += total
        out[p] = (behind - before) / max(behind + before, 1e-9)
    return out
