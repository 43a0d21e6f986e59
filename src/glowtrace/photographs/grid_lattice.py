"""A lattice of crossings, grown from four of them: which crossing is which, but for the labels.

Four crossings that could be the corners of one square of the grid say where the next ones should
be; those found there improve the map, which reaches further, until no more are found. The trace,
edges and dirt make crossings as well, but none that go on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import spatial

from glowtrace.photographs.grid import ScreenMap, fit_map
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.photograph import PhotographError

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

_NEAR: Final = 0.14
"""How far from its expected place a crossing is taken, in squares."""
_NEARER: Final = 0.06
"""The same once the map knows the lens: an edge of the screen beside a line is not that line."""
_JITTER: Final = 1.5
"""And in pixels: so far off noise may put a crossing of dim lines."""
_SEEDS: Final = 60
_NEXT: Final = 3
"""So many of the nearest crossings along either direction may be the next one of the grid."""
_NARROWEST: Final = 12.0
"""Smallest side of a square, in pixels."""
_LEAN: Final = 0.9
"""How far a side may lean: across over along."""
_LONGER: Final = 2.5
"""Largest ratio of the sides of a square that is seen askew."""
_STRAY: Final = 3.0
"""A crossing further off than so many medians is the trace, an edge or dirt."""
_ROUNDS: Final = 30
_FEWEST: Final = 9
"""Fewest crossings of a lattice."""
_LENS_FROM: Final = 16
_CLOSEST: Final = 5
"""How many of the largest lattices are grown on with the lens's distortion."""


@dataclass(frozen=True, eq=False)
class Lattice:
    """Crossings of a grid, numbered from an arbitrary one; lengths in squares."""

    numbers: Indices
    """(n, 2) of each crossing, along u and along v."""
    pixels: Array
    """(n, 2) column and row."""
    screen_map: ScreenMap
    """From numbers to pixels."""

    def __len__(self) -> int:
        return len(self.numbers)


def largest_lattice(crossings: Array, size: tuple[int, int], enough: int) -> Lattice | None:
    """Find the largest lattice among crossings.

    Parameters
    ----------
    crossings
        (n, 2) column and row of what may be crossings, strongest first.
    size
        Columns and rows of the photograph.
    enough
        Crossings from which no larger lattice is looked for.

    Returns
    -------
    Lattice or None
        None where no square can be grown to nine crossings.
    """
    if len(crossings) < _FEWEST:
        return None
    tree = spatial.KDTree(crossings)
    grown: dict[frozenset[int], tuple[Indices, Indices]] = {}
    for seed in range(min(_SEEDS, len(crossings))):
        for start in _squares(crossings, tree, seed):
            numbers, members = _grown(crossings, tree, start, size)
            key = frozenset(members.tolist())
            if len(members) < _FEWEST or key in grown:
                continue
            grown[key] = numbers, members
            if len(members) >= enough:
                lattice = _with_lens(crossings, tree, numbers, members, size)
                if lattice is not None and len(lattice) >= enough:
                    return lattice
    largest = sorted(grown, key=len, reverse=True)[:_CLOSEST]
    found = [_with_lens(crossings, tree, *grown[key], size) for key in largest]
    return max((each for each in found if each is not None), key=len, default=None)


def _squares(crossings: Array, tree: spatial.KDTree, seed: int) -> Iterator[Array]:
    """Give maps (3, 3) from numbers to pixels of the squares that a crossing may be a corner of."""
    corner = crossings[seed]
    away = crossings - corner
    right = _nearest(away[:, 0], away[:, 1])
    up = _nearest(-away[:, 1], away[:, 0])
    for a in away[right]:
        for b in away[up]:
            long, short = np.hypot(*a), np.hypot(*b)
            # A diagonal makes a lattice of the same crossings; one of the sides is shorter then.
            aslant = min(np.hypot(*(a + b)), np.hypot(*(a - b))) < max(long, short)
            if aslant or max(long, short) > _LONGER * min(long, short):
                continue
            far, _ = tree.query(corner + a + b)
            if far < _NEAR * min(long, short):
                start = np.eye(3)
                start[:2] = np.column_stack([a, b, corner])
                yield start


def _nearest(along: Array, across: Array) -> Indices:
    """Give the nearest few of those that lie ahead."""
    ahead = np.flatnonzero((along > _NARROWEST) & (np.abs(across) < _LEAN * along))
    return ahead[np.argsort(np.hypot(along[ahead], across[ahead]))[:_NEXT]]


def _grown(
    crossings: Array, tree: spatial.KDTree, start: Array, size: tuple[int, int]
) -> tuple[Indices, Indices]:
    """Numbers (n, 2) and members (n,) of the lattice that a map (3, 3) of one square grows to."""
    matrix = start
    numbers, members = np.array([[0, 0], [1, 0], [0, 1], [1, 1]]), np.zeros(0, dtype=np.int64)
    for _ in range(_ROUNDS):
        found, matched = _matched(partial(_projected, matrix), tree, numbers, size)
        if len(matched) < 4 or np.array_equal(matched, members):
            return found, matched
        numbers, members = found, matched
        matrix = _fitted(numbers, crossings[members])
        off = np.linalg.norm(_projected(matrix, numbers.astype(float)) - crossings[members], axis=1)
        fits = off <= _STRAY * max(float(np.median(off)), 0.3)
        if not fits.all() and fits.sum() >= _FEWEST:
            matrix = _fitted(numbers[fits], crossings[members[fits]])
    return numbers, members


def _with_lens(
    crossings: Array, tree: spatial.KDTree, numbers: Indices, members: Indices,
    size: tuple[int, int],
) -> Lattice | None:  # fmt: skip
    """Grow a lattice on with a map that knows the lens."""
    lattice: Lattice | None = None
    for _ in range(_ROUNDS):
        points = [
            GridPoint(float(i), float(j), float(x), float(y), 0.5)
            for (i, j), (x, y) in zip(numbers, crossings[members], strict=True)
        ]
        low, high = numbers.min(axis=0), numbers.max(axis=0)
        hull = float(low[0]), float(low[1]), float(high[0]), float(high[1])
        try:
            screen_map = fit_map(size, points, hull, lens=len(points) >= _LENS_FROM)
        except PhotographError:
            return lattice
        off = np.linalg.norm(screen_map.residuals, axis=1)
        fits = off <= _STRAY * max(float(np.median(off)), 0.3)
        if not fits.all() and fits.sum() >= _FEWEST:
            numbers, members = numbers[fits], members[fits]
            continue
        lattice = Lattice(numbers, crossings[members], screen_map)
        found, matched = _matched(screen_map.pixels, tree, numbers, size, _NEARER)
        if len(matched) < _FEWEST or np.array_equal(matched, members):
            return lattice
        numbers, members = found, matched
    return lattice


def _matched(
    seen: Callable[[Array], Array],
    tree: spatial.KDTree,
    numbers: Indices,
    size: tuple[int, int],
    near_enough: float = _NEAR,
) -> tuple[Indices, Indices]:
    """Match the numbers so far, and one more around them, with crossings; each at most once."""
    low, high = numbers.min(axis=0) - 1, numbers.max(axis=0) + 1
    i, j = np.mgrid[low[0] : high[0] + 1, low[1] : high[1] + 1]
    around = np.column_stack([i.ravel(), j.ravel()])
    at = seen(around.astype(float))
    half = 0.5 * np.eye(2)
    square = np.minimum(
        *(np.linalg.norm(seen(around + side) - seen(around - side), axis=1) for side in half)
    )
    whole = np.isfinite(at).all(axis=1) & np.isfinite(square) & (square < max(size))
    whole &= ((at > 0) & (at < size)).all(axis=1)
    around, at, square = around[whole], at[whole], square[whole]
    if len(at) == 0:
        return around, np.zeros(0, dtype=np.int64)
    found = tree.query(at)
    away, nearest = np.asarray(found[0]), np.asarray(found[1], dtype=np.int64)
    near = np.flatnonzero(away < np.maximum(near_enough * square, _JITTER))
    # Where two expect the same crossing, the nearer one has it.
    near = near[np.argsort(away[near], kind="stable")]
    _, first = np.unique(nearest[near], return_index=True)
    kept = np.sort(near[first])
    return around[kept], nearest[kept]


def _projected(matrix: Array, at: Array) -> Array:
    a, b, w = matrix @ np.column_stack([at, np.ones(len(at))]).T
    with np.errstate(divide="ignore", invalid="ignore"):
        seen: Array = np.column_stack([a / w, b / w])
    seen[w <= 0] = np.nan
    return seen


def _fitted(numbers: Indices, pixels: Array) -> Array:
    """Map (3, 3) from numbers to pixels: an affine one as long as there are few."""
    at, middle = numbers.astype(float), pixels.mean(axis=0)
    ones = np.ones((len(at), 1))
    if len(at) < _FEWEST or np.ptp(at, axis=0).min() < 2:
        matrix = np.eye(3)
        matrix[:2] = np.linalg.lstsq(np.hstack([at, ones]), pixels, rcond=None)[0].T
        return matrix
    scale = float(np.abs(pixels - middle).max())
    x, y = ((pixels - middle) / scale).T
    none = np.zeros((len(at), 3))
    known = np.hstack([at, ones])
    rows = np.vstack(
        [
            np.hstack([known, none, -x[:, None] * at]),
            np.hstack([none, known, -y[:, None] * at]),
        ]
    )
    eight = np.linalg.lstsq(rows, np.concatenate([x, y]), rcond=None)[0]
    back = np.array([[scale, 0.0, middle[0]], [0.0, scale, middle[1]], [0.0, 0.0, 1.0]])
    whole: Array = back @ np.append(eight, 1.0).reshape(3, 3)
    return whole
