"""Which stations of a line are to be trusted: bright, in a run, and clear of gaps and crossings."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from glowtrace.photographs.trace_line_profiles import FLOOR, WEAKEST, Stations

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

FEWEST: Final = 5
"""Fewest stations in a row that make a line."""
_CLIPPED_FLOOR: Final = 0.03
"""Least standard uncertainty where the photograph is saturated, in widths."""
_APART: Final = 5.0
"""Widths within which another stretch of the line spoils a station."""
_STRIDES: Final = (1, 3)
"""Stations apart at which the scatter is looked at."""
_ENOUGH: Final = 8
_NARROWER: Final = 0.12
"""Logarithm of width by which a line that something covers in part is narrower than usual."""
_BROADER: Final = 0.35
_LESS_LIGHT: Final = -0.1
"""Logarithm of its light, relative to the usual, below which it may be covered in part."""
_HARDLY: Final = -1.4
"""And below which it is hidden: a quarter."""
_ROUNDS: Final = 12
_PARALLEL: Final = 0.94
"""Cosine of the angle from which two stretches count as crossing."""


def trusted(stations: Stations, width: float) -> Stations | None:
    """Keep stations that are bright and lie on one smooth line, in runs; None if none do."""
    seen = stations.strength >= WEAKEST
    if seen.sum() < FEWEST:
        return None
    seen &= ~_covered(stations, seen)
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


def _covered(stations: Stations, seen: Mask) -> Mask:
    """Say which stations (s,) something covers in part, or wholly and shines a little itself.

    What sticks out of a hand is dimmer and narrower than the line, and its middle lies beside it.
    """
    order = np.linspace(-1.0, 1.0, len(seen))
    clear = seen & (stations.light > 0)
    dimmer = _off_usual(order, np.log(np.where(clear, stations.light, 1.0)), clear)
    is_wide = clear & np.isfinite(stations.width)
    wider = _off_usual(order, np.log(np.where(is_wide, stations.width, 1.0)), is_wide)
    wider[~is_wide] = 0.0
    unsure = 3.0 / np.maximum(stations.strength, 1.0)
    narrow = (wider < -(_NARROWER + unsure)) & (dimmer < _LESS_LIGHT)
    broad = (wider > _BROADER + unsure) & (dimmer < 2 * _LESS_LIGHT)
    lost = clear & ((dimmer < _HARDLY) | narrow | broad)
    # The blur reaches a station further.
    near: Mask = ndimage.binary_dilation(lost, iterations=1)
    return near & (lost | (dimmer < _LESS_LIGHT))


def _off_usual(order: Array, values: Array, which: Mask) -> Array:
    """How far values (s,) lie above what is usual along the line: a parabola through most."""
    off = values - float(np.median(values[which]))
    for _ in range(_ROUNDS):
        scatter = max(1.4826 * float(np.median(np.abs(off[which]))), 0.02)
        # Tukey's weights: what is covered has none.
        weight = np.where(which, np.clip(1.0 - (off / (5.0 * scatter)) ** 2, 0.0, None), 0.0)
        if (weight > 0).sum() < FEWEST:
            break
        off = values - np.polyval(np.polyfit(order, values, 2, w=weight), order)
    return off


def _half_hidden(stations: Stations, seen: Mask) -> Mask:
    """Say which stations stand at the edge of a gap and are dimmer than the next: partly hidden."""
    strength = np.where(seen, stations.strength, 0.0)
    before, after = np.append(0.0, strength[:-1]), np.append(strength[1:], 0.0)
    at_edge = seen & ((before == 0.0) | (after == 0.0))
    dimmer: Mask = at_edge & (strength < 0.85 * np.maximum(before, after))
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

    Neighbours share part of their errors (JPEG, resampling, a printed line beneath), which their
    own differences do not show; those between stations a few apart do. The larger one counts.
    """
    scale = max(_scatter(stations, apart) for apart in _STRIDES) or 1.0
    spread = scale * stations.uncertainty
    clipped = np.hypot(spread, _CLIPPED_FLOOR * width)
    return replace(
        stations,
        uncertainty=np.where(stations.is_clipped, clipped, np.maximum(spread, FLOOR)),
    )


def _scatter(stations: Stations, apart: int) -> float:
    """Scatter of stations about a smooth curve over what is stated; 0 where too few tell.

    Third differences of four stations, each ``apart`` from the next, leave nothing of a curve with
    steady curvature.
    """
    ratios = []
    for piece in np.unique(stations.piece):
        mine = np.flatnonzero(stations.piece == piece)
        if len(mine) <= 3 * apart:
            continue
        position, across = stations.position[mine], stations.across[mine]
        step = np.linalg.norm(position[apart:] - position[:-apart], axis=1)
        even = step < (1.0 + 0.5 / apart) * np.median(step)
        whole = even[: -2 * apart] & even[apart:-apart] & even[2 * apart :]
        one, two, three, four = (
            slice(n * apart, len(mine) - (3 - n) * apart or None) for n in range(4)
        )
        third = position[four] - 3 * position[three] + 3 * position[two] - position[one]
        along = (third * (across[two] + across[three]) / 2).sum(axis=1)
        variance = stations.uncertainty[mine] ** 2
        expected = variance[one] + 9 * variance[two] + 9 * variance[three] + variance[four]
        ratios.append((along / np.sqrt(expected))[whole])
    every = np.concatenate(ratios) if ratios else np.zeros(0)
    if len(every) < _ENOUGH:
        return 0.0
    # Halfway between the robust and the plain estimate: outliers count, but do not rule.
    scale = max(1.4826 * float(np.median(np.abs(every))), 0.2)
    inner = every[np.abs(every) < 5 * scale]
    return max(scale, float(np.sqrt(np.mean(inner**2))))
