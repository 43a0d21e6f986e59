"""Names for what happens at a setting, from where its electrons ended."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench, EndFace, Sheet

Array = NDArray[np.float64]

OUTCOMES: Final = (
    "no beam",
    "leaves the screen",
    "hits the glass",
    "hits the upper plate",
    "hits the lower plate",
    "returns to the anode",
    "keeps flying",
    "full line",
    "null",
    "turns back",
    "full circle",
    "spot on the screen",
    "focus",
)
"""What can happen; a map's codes are places in this tuple."""

CODE: Final = {name: code for code, name in enumerate(OUTCOMES)}
NOT_YET: Final = -1
"""Code of a point that has not been computed."""

_OF_END: Final = {
    "upper plate": "hits the upper plate",
    "lower plate": "hits the lower plate",
    "anode": "returns to the anode",
    "still flying": "keeps flying",
}
_ASTRAY = 0.1
"""Share of the beam that must end elsewhere to name a setting after where it does."""
_MOSTLY = 0.6
"""Share of the beam on the screen from which a turn-back is seen."""
_REGAINED = 0.1
"""Share of its depth by which a line must come back to be seen to have turned."""
_FOCUS = 1.5
"""Diameter of a focus in apertures."""


def name_outcomes(
    bench: Bench,
    end_names: tuple[str, ...],
    knobs: Array,
    ends: NDArray[np.int64],
    places: Array,
) -> NDArray[np.int8]:
    """Give the code (p,) of what happens at each of p settings.

    Parameters
    ----------
    bench
        The bench.
    end_names
        Names of the end codes.
    knobs, ends, places
        As for `glowtrace.plan.sweep.fly_settings`.
    """
    counts = np.stack([(ends == code).sum(axis=1) for code in range(len(end_names))], axis=1)
    shares = counts / ends.shape[1]
    on_screen = end_names.index("screen")
    is_bulb = bench.screen.kind == "gas glow"  # there the glass bounds the picture
    beside = "hits the glass" if is_bulb else "leaves the screen"
    codes = np.array([CODE[_OF_END.get(name, beside)] for name in end_names])
    elsewhere = shares.copy()
    elsewhere[:, on_screen] = 0.0
    found: NDArray[np.int8] = codes[elsewhere.argmax(axis=1)].astype(np.int8)
    if is_bulb:
        back = shares[:, end_names.index("anode")] + shares[:, end_names.index("still flying")]
        found[back >= 1 - _ASTRAY] = CODE["full circle"]
    else:
        shown = shares[:, on_screen] >= 1 - _ASTRAY
        landed = ends == on_screen
        if isinstance(bench.screen, EndFace):
            spots = _spots(places[shown], landed[shown])
            is_focus = spots <= _FOCUS * bench.gun.aperture_height
            found[shown] = np.where(is_focus, CODE["focus"], CODE["spot on the screen"])
        elif isinstance(bench.screen, Sheet):
            # Having turned, a beam may leave the sheet before its end and still have been seen.
            mostly = (shares[:, on_screen] >= _MOSTLY) & (found == CODE[beside])
            seen = shown | mostly
            is_crossed = (knobs[seen, 1] != 0) & (knobs[seen, 2] != 0)
            lines = _lines(places[seen], landed[seen], is_crossed)
            is_named = shown[seen] | (lines == CODE["turns back"])
            found[np.flatnonzero(seen)[is_named]] = lines[is_named]
    found[knobs[:, 0] <= 0.0] = CODE["no beam"]
    return found


def _spots(places: Array, landed: NDArray[np.bool_]) -> Array:
    """Give twice the r.m.s. distance in m (p,) of the landings from their middle."""
    weight = landed[:, :, None] / landed.sum(axis=1)[:, None, None]
    middle = (weight * places).sum(axis=1, keepdims=True)
    squares: Array = (weight * (places - middle) ** 2).sum(axis=(1, 2))
    return 2.0 * np.sqrt(squares)


def _lines(
    places: Array, landed: NDArray[np.bool_], is_crossed: NDArray[np.bool_]
) -> NDArray[np.int8]:
    """Tell full lines, nulls and turn-backs apart by a cubic through the landings."""
    if len(places) == 0:
        return np.zeros(0, dtype=np.int8)
    u, v = places[:, :, 0], places[:, :, 1]
    low = np.where(landed, u, np.inf).min(axis=1, keepdims=True)
    high = np.where(landed, u, -np.inf).max(axis=1, keepdims=True)
    s = (u - low) / np.maximum(high - low, 1e-9)
    powers = np.stack([s**n for n in range(4)], axis=2) * landed[:, :, None]
    normal = powers.transpose(0, 2, 1) @ powers + 1e-9 * np.eye(4)
    fit = np.linalg.solve(normal, powers.transpose(0, 2, 1) @ (v * landed)[:, :, None])
    off = ((v - (powers @ fit)[:, :, 0]) * landed) ** 2
    width = 2.0 * np.sqrt(off.sum(axis=1) / np.maximum(landed.sum(axis=1) - 4, 1))
    along = np.linspace(0.0, 1.0, 41)
    course = (np.stack([along**n for n in range(4)], axis=1) @ fit)[:, :, 0]
    deepest = np.abs(course).argmax(axis=1)
    rows = np.arange(len(course))
    depth, end = course[rows, deepest], course[:, -1]
    is_straight = np.abs(depth) <= width
    is_inside = (deepest > 0) & (deepest < len(along) - 1)
    comes_back = (np.abs(depth) > width) & (1.0 - end / depth > _REGAINED) & is_inside
    codes = np.full(len(course), CODE["full line"], dtype=np.int8)
    codes[comes_back] = CODE["turns back"]
    codes[is_straight & is_crossed] = CODE["null"]
    return codes
