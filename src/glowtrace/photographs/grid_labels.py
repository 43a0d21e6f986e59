"""Which printed line is which: the lines of a lattice are followed to where they end.

A lattice has the printed lines but not their labels, and a label that is off by one square fits
just as well. The lines end at the edge of the screen, or with the outermost ones of the other
direction; only where both ends of both directions are seen, and are as far apart as the printed
ones, is it settled. Else a click on a known crossing settles it.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from glowtrace.photographs.grid_lattice import Lattice
from glowtrace.photographs.grid_lines import PrintedGrid
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.grid_relief import MARGIN, LineRelief

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_PER_SQUARE: Final = 8
"""Places along a line, for each square, at which it is looked for."""
_PRESENT: Final = 0.45
"""Relief relative to the usual one of the lines from which a line is there."""
_RUN: Final = 3
"""So many places next to each other make a piece of a line."""
_GAP: Final = 6
"""Longest gap of a line beyond the lattice, in places."""
_AGREE: Final = 0.25
"""How far apart two ends may be and agree, in squares."""
_OFTEN: Final = 0.4
"""Part of the lines that must end together."""
_BEYOND: Final = 0.12
"""Largest part of the lines, but for one, that may go on further: something stands there."""
_OFF: Final = 0.3
"""How far an end may be from where it is printed, in squares."""


@dataclass(frozen=True)
class Labels:
    """What the numbers of a lattice stand for, and what it was seen by."""

    shift: tuple[float, float] | None
    """(u, v) in squares of the crossing (0, 0); None where it is not clear."""
    says: str


@dataclass(frozen=True)
class _Ends:
    """Where the lines along one direction end, in squares; None where that is not seen."""

    low: float | None
    high: float | None


def labels_seen(lattice: Lattice, relief: LineRelief, grid: PrintedGrid) -> Labels:
    """Label a lattice by where its lines end."""
    shifts = []
    sides = (("left", "right"), ("lower", "upper"))
    for axis in (0, 1):
        lines, edges = (
            (grid.u, grid.rectangle[::2]) if axis == 0 else (grid.v, grid.rectangle[1::2])
        )
        ends = _ends(lattice, relief, axis)
        shift, why = _shift(
            ends, (edges[0] / grid.pitch, edges[1] / grid.pitch),
            (lines[0] / grid.pitch, lines[-1] / grid.pitch), sides[axis],
        )  # fmt: skip
        if shift is None:
            return Labels(None, why)
        shifts.append(shift)
    return Labels((shifts[0], shifts[1]), "the lines end where the screen does")


def labels_known(lattice: Lattice, known: Sequence[GridPoint], grid: PrintedGrid) -> Labels:
    """Label a lattice by crossings that somebody clicked."""
    seen = lattice.screen_map.places([(each.column, each.row) for each in known])
    told = np.array([(each.u, each.v) for each in known]) / grid.pitch
    numbers = np.rint(seen)
    shifts = told - numbers
    if np.abs(seen - numbers).max() > _OFF:
        return Labels(None, "no crossing is seen at the click; set it anew, with the loupe")
    if np.ptp(shifts, axis=0).max() > 0.01:
        return Labels(None, "the clicks contradict each other by whole squares; take one away")
    shift = shifts.mean(axis=0)
    return Labels((float(shift[0]), float(shift[1])), "the lines are told by the click")


def _shift(
    ends: _Ends, edges: tuple[float, float], lines: tuple[float, float], sides: tuple[str, str]
) -> tuple[float | None, str]:
    """Give what has to be added to a number, or why it is not clear."""
    if ends.low is None or ends.high is None:
        unseen = " and ".join(
            side for side, end in zip(sides, (ends.low, ends.high), strict=True) if end is None
        )
        return None, f"the {unseen} end of the grid is not seen clearly"
    phase = lines[0] % 1.0
    fitting = set()
    for low, high in (edges, lines):
        off = (low + high) / 2 - (ends.low + ends.high) / 2
        shift = round(off - phase) + phase
        worst = max(abs(ends.low + shift - low), abs(ends.high + shift - high))
        if worst < _OFF:
            fitting.add(round(shift, 6))
    if len(fitting) == 1:
        return fitting.pop(), ""
    if fitting:
        return None, "the lines fit the screen in two ways"
    seen, screen = ends.high - ends.low, edges[1] - edges[0]
    return None, (
        f"the lines reach over {seen:.1f} squares where the screen of this bench has {screen:.1f}"
    )


def _ends(lattice: Lattice, relief: LineRelief, axis: int) -> _Ends:
    """Where most lines along an axis end."""
    image = ndimage.maximum_filter(relief.level if axis == 0 else relief.upright, size=3)
    low, high = lattice.numbers.min(axis=0), lattice.numbers.max(axis=0)
    span = high[axis] - low[axis]
    along = np.arange(low[axis] - span / 2 - 2, high[axis] + span / 2 + 2 + 1e-9, 1.0 / _PER_SQUARE)
    counted = np.bincount(lattice.numbers[:, 1 - axis] - low[1 - axis])
    across = low[1 - axis] + np.flatnonzero(counted >= 0.3 * counted.max())
    strength = np.full((len(across), len(along)), np.nan)
    for n, line in enumerate(across):
        places = np.full((len(along), 2), float(line))
        places[:, axis] = along
        at = lattice.screen_map.pixels(places)
        size = np.array(image.shape[::-1])
        inside = ((at > MARGIN) & (at < size - 1 - MARGIN)).all(axis=1)
        strength[n, inside] = ndimage.map_coordinates(image, at[inside].T[::-1], order=1)
    inner = (along >= low[axis]) & (along <= high[axis])
    usual = float(np.nanmedian(strength[:, inner]))
    smooth = ndimage.uniform_filter1d(np.nan_to_num(strength), 3, axis=1)
    is_there = smooth > _PRESENT * usual
    is_seen = np.isfinite(strength)
    low_end, high_end = (
        _common(
            [
                _end(there[::direction], seen[::direction], along[::direction], inner)
                for there, seen in zip(is_there, is_seen, strict=True)
            ],
            direction,
        )
        for direction in (-1, 1)
    )
    return _Ends(low_end, high_end)


def _end(is_there: Mask, is_seen: Mask, along: Array, inner: Mask) -> tuple[float, bool]:
    """Where a line ends, and whether that is seen: not where the photograph, or a line, is missing.

    Beyond the lattice it is followed without a gap; far away other things have edges.
    """
    runs = np.flatnonzero(np.convolve(is_there, np.ones(_RUN), mode="same") >= _RUN)
    if len(runs) == 0:
        return float(along[0]), False
    last = int(runs[-1])
    for one, following in itertools.pairwise(runs):
        if following - one > _GAP and not inner[following]:
            last = int(one)
            break
    last += _RUN // 2
    step = float(along[1] - along[0])
    is_end = last + _RUN < len(along) and bool(is_seen[last : last + _RUN + 1].all())
    return float(along[last]) + step / 2, is_end


def _common(ends: list[tuple[float, bool]], direction: int) -> float | None:
    """Where most lines end together, hardly any further; None where they do not."""
    outward = direction * np.array([place for place, _ in ends])
    is_end = np.array([seen for _, seen in ends])
    for end in np.sort(outward[is_end])[::-1]:
        together = is_end & (np.abs(outward - end) <= _AGREE)
        if together.sum() >= max(_OFTEN * len(ends), 2):
            middle = float(np.median(outward[together]))
            further = (outward > middle + 2 * _AGREE).sum()
            return direction * middle if further <= max(1.0, _BEYOND * len(ends)) else None
    return None
