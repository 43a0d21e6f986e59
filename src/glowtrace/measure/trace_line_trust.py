"""Which stations of a line are to be trusted: bright, in a run, and clear of gaps and crossings."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.measure.trace_line_profiles import WEAKEST, Stations, scaled_to_scatter

FEWEST: Final = 5
"""Fewest stations in a row that make a line."""
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
