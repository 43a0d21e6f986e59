"""Which stations of a line are to be trusted: bright, in a run, and clear of gaps and crossings."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.measure.trace_line_profiles import FLOOR, WEAKEST, Stations

FEWEST: Final = 5
"""Fewest stations in a row that make a line."""
_CLIPPED_FLOOR: Final = 0.03
"""Least standard uncertainty where the photograph is saturated, in widths."""
_APART: Final = 5.0
"""Widths within which another stretch of the line spoils a station."""
_PARALLEL: Final = 0.94
"""Cosine of the angle from which two stretches count as crossing."""


def trusted(stations: Stations, width: float) -> Stations | None:
    """Keep stations that are bright and lie on one smooth line, in runs; None if none do."""
    seen = stations.strength >= WEAKEST
    if seen.sum() < FEWEST:
        return None
    step = np.linalg.norm(np.diff(stations.position, axis=0), axis=1)
    typical = float(np.median(step))
    jumps = np.append(False, step > 2.5 * typical + width)
    # A run ends where stations are missing or the line jumps; a short run is chance.
    run = np.cumsum(jumps | np.append(False, seen[1:] != seen[:-1]))
    for number in np.unique(run):
        mine = run == number
        if mine.sum() < FEWEST:
            seen[mine] = False
    seen &= ~_half_hidden(stations, seen)
    if not seen.any():
        return None
    return scaled_to_scatter(stations.selected(seen), width)


def _half_hidden(stations: Stations, seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Say which stations stand at the edge of a gap and are dimmer than the next: partly hidden."""
    strength = np.where(seen, stations.strength, 0.0)
    before, after = np.append(0.0, strength[:-1]), np.append(strength[1:], 0.0)
    at_edge = seen & ((before == 0.0) | (after == 0.0))
    dimmer: NDArray[np.bool_] = at_edge & (strength < 0.85 * np.maximum(before, after))
    return dimmer


def clear_of_crossings(stations: Stations) -> Stations:
    """Leave out stations at which the line crosses itself, or another piece of it."""
    position, piece = stations.position, stations.piece
    clear = stations.width[np.isfinite(stations.width)]
    width = float(np.median(clear)) if len(clear) else 1.0
    apart = np.linalg.norm(position[:, None] - position[None], axis=2)
    parallel = np.abs(stations.across @ stations.across.T) > _PARALLEL
    order = np.arange(len(position))
    is_next = (np.abs(order[:, None] - order) <= 2) & (piece[:, None] == piece)
    crossed = (apart < _APART * width) & ~parallel & ~is_next
    return stations.selected(~crossed.any(axis=1))


def scaled_to_scatter(stations: Stations, width: float) -> Stations:
    """Give the stations with uncertainties that agree with their scatter about a smooth curve.

    Third differences of four stations in a row leave nothing of a curve with steady curvature.
    """
    ratios = []
    for piece in np.unique(stations.piece):
        mine = np.flatnonzero(stations.piece == piece)
        if len(mine) < 4:
            continue
        step = np.linalg.norm(np.diff(stations.position[mine], axis=0), axis=1)
        even = step < 1.5 * np.median(step)
        whole = even[:-2] & even[1:-1] & even[2:]
        third = np.diff(stations.position[mine], n=3, axis=0)
        along = (third * (stations.across[mine][1:-2] + stations.across[mine][2:-1]) / 2).sum(
            axis=1
        )
        variance = stations.uncertainty[mine] ** 2
        expected = variance[:-3] + 9 * variance[1:-2] + 9 * variance[2:-1] + variance[3:]
        ratios.append((along / np.sqrt(expected))[whole])
    every = np.concatenate(ratios) if ratios else np.zeros(0)
    scale = 1.0
    if len(every) >= 8:
        # Halfway between the robust and the plain estimate: outliers count, but do not rule.
        scale = max(1.4826 * float(np.median(np.abs(every))), 0.2)
        inner = every[np.abs(every) < 5 * scale]
        scale = max(scale, float(np.sqrt(np.mean(inner**2))))
    floor = np.where(stations.is_clipped, _CLIPPED_FLOOR * width, FLOOR)
    return replace(stations, uncertainty=np.hypot(scale * stations.uncertainty, floor))
