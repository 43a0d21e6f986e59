"""Finding the printed grid of a screen in a photograph without any click.

What may be a crossing of two thin lines is found first; from one square a lattice is grown over
all crossings that go on; where its lines end says which is which. Then the crossings are measured
and the map is fitted to them. Where any of this is not clear it says so, and clicks are needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.photographs.grid import ScreenMap, fit_map
from glowtrace.photographs.grid_crossings import grid_crossings
from glowtrace.photographs.grid_labels import labels_known, labels_seen
from glowtrace.photographs.grid_lattice import Lattice, largest_lattice
from glowtrace.photographs.grid_lines import PrintedGrid
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.grid_relief import SCALES, LineRelief, crossings_of, line_reliefs
from glowtrace.photographs.photograph import PhotographError
from glowtrace.watching import Cancelled, Progress, Watch

Array = NDArray[np.float64]

_ACROSS: Final = 1000
"""About as many pixels along the longer side are searched."""
_STANDS_OUT: Final = 3.5
"""Relief over noise from which two lines may cross."""
_WEAKEST: Final = 0.3
"""Relief of a crossing relative to the usual one from which it counts."""
_MOST_CROSSINGS: Final = 900
_LARGE: Final = 0.45
"""Part of the printed crossings that a lattice must have."""
_WORST: Final = 0.5
"""Largest root mean square distance of the crossings from the map, in pixels of a photograph that
is 1600 pixels across; in proportion in a larger one."""
_USUAL_ACROSS: Final = 1600
_ENOUGH: Final = 0.75
"""Share of the crossings that must be found."""
_ENOUGH_CLICKED: Final = 0.4
"""The same where clicks say which is which."""
_SQUARES: Final = (1, 2, 4)
"""How far along its lines a crossing is measured, in squares: further where they are dim."""
_LENS_FROM: Final = 12
"""Crossings from which the lens's distortion is fitted as well."""


@dataclass(frozen=True)
class FoundGrid:
    """The outcome of a search: a map, or the reason why there is none."""

    screen_map: ScreenMap | None
    says: str
    crossings: int = 0
    """Crossings of printed lines on which the map rests."""
    needs_label: bool = False
    """Whether the lines are found and one click on a known crossing is all that is wanted."""

    def as_dict(self) -> dict[str, Any]:
        """Give what a page or a file needs, in plain numbers."""
        found = self.screen_map.as_dict() if self.screen_map else None
        return {
            "screen_map": found,
            "says": self.says,
            "crossings": self.crossings,
            "needs_label": self.needs_label,
        }


def find_grid(
    light: Array,
    grid: PrintedGrid,
    *,
    known: Sequence[GridPoint] = (),
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> FoundGrid:
    """Find the printed grid by itself.

    When it holds: most of the grid is in the photograph, upright within 40 degrees, and its lines
    stand out. Its ends must be seen, or one crossing be known. Otherwise `says` tells what is
    wrong, and four clicks do it (`fit_screen_map`, then `refine_grid`).

    Parameters
    ----------
    light
        (rows, columns) of a photograph or of a frame of a film, linear, in any unit; see `grey`.
    grid
        What is printed there.
    known
        Crossings that somebody clicked: one is enough to tell which line is which.
    progress, cancelled
        Told how far it is, and asked whether to give up.

    Raises
    ------
    GivenUpError
        It was cancelled.
    """
    watch = Watch(progress, cancelled)
    wanted = len(grid.u) * len(grid.v)
    if len(grid.u) < 3 or len(grid.v) < 3:
        return _not_found("the grid has fewer than three lines each way")
    block = max(1, round(max(light.shape) / _ACROSS))
    found = _not_found("no lines stand out")
    for part, (blocks, length) in enumerate(SCALES):
        stretch = watch.stretch(part / len(SCALES), (part + 1) / len(SCALES))
        side = block * blocks
        lattice, relief = _lattice(_averaged(light, side), length, wanted, stretch)
        if lattice is None or relief is None or len(lattice) < _LARGE * wanted:
            if not found.needs_label:
                found = _not_found(f"only {len(lattice or ())} of {wanted} crossings stand out")
            continue
        stretch.note(0.8, "looking which line is which")
        known_there = _shrunk(known, side)
        labels = (
            labels_known(lattice, known_there, grid)
            if known
            else labels_seen(lattice, relief, grid)
        )
        if labels.shift is None:
            found = _unlabelled(labels.says)
            continue
        stretch.note(0.9, "measuring the crossings")
        found = _measured(light, lattice, labels.shift, side, grid, clicked=bool(known))
        if found.screen_map is not None:
            break
    return found


def _lattice(
    light: Array, length: float, wanted: int, watch: Watch
) -> tuple[Lattice | None, LineRelief | None]:
    """Give the clearest lattice, of dark lines or of bright ones, and the relief that it is in."""
    best: tuple[Lattice | None, LineRelief | None] = None, None
    clearest = 0.0
    watch.note(0.0, "looking for thin lines")
    for part, relief in enumerate(line_reliefs(light, length)):
        watch.note(0.2 + 0.3 * part, "looking for squares")
        crossings = crossings_of(relief, _STANDS_OUT, _MOST_CROSSINGS)
        # Two lines of a print cross about as clearly everywhere; along a line there is less.
        usual = relief.at(crossings[: max(1, wanted // 2)][-1:])
        crossings = crossings[relief.at(crossings) > _WEAKEST * usual]
        lattice = largest_lattice(crossings, light.shape[::-1], round(0.9 * wanted))
        # Beside a bright line it is darker: the flanks make a lattice too, but a weaker one.
        if lattice is not None and (strength := relief.at(lattice.pixels).sum()) > clearest:
            best, clearest = (lattice, relief), strength
    return best


def _measured(
    light: Array,
    lattice: Lattice,
    shift: tuple[float, float],
    block: int,
    grid: PrintedGrid,
    *,
    clicked: bool,
) -> FoundGrid:
    """Measure the crossings of a lattice with its labels in the photograph itself."""
    points = [
        GridPoint(float(u), float(v), float(column), float(row), float(block))
        for (u, v), (column, row) in zip(
            (lattice.numbers + shift) * grid.pitch,
            (lattice.pixels + 0.5) * block - 0.5,
            strict=True,
        )
    ]
    size = light.shape[::-1]
    try:
        rough = fit_map(size, points, grid.rectangle, lens=len(points) >= _LENS_FROM)
    except PhotographError as error:
        return _not_found(str(error))
    return _refined(light, rough, grid, _ENOUGH_CLICKED if clicked else _ENOUGH)


def _shrunk(points: Sequence[GridPoint], block: int) -> list[GridPoint]:
    """Give points as they are seen in light averaged over blocks."""
    return [
        replace(p, column=(p.column + 0.5) / block - 0.5, row=(p.row + 0.5) / block - 0.5)
        for p in points
    ]


def refine_grid(light: Array, rough: ScreenMap, grid: PrintedGrid) -> FoundGrid:
    """Improve a map, for example from four clicks, by the crossings of the printed lines.

    The rough map must be right to a fifth of the pitch.
    """
    return _refined(light, rough, grid, _ENOUGH_CLICKED)


def _refined(light: Array, rough: ScreenMap, grid: PrintedGrid, share: float) -> FoundGrid:
    """Measure the crossings, from further along their lines where these are dim."""
    found = _not_found("no lines stand out")
    for squares in _SQUARES:
        found = _refined_from(light, rough, grid, share, squares)
        if found.screen_map is not None:
            break
    return found


def _refined_from(
    light: Array, rough: ScreenMap, grid: PrintedGrid, share: float, squares: int
) -> FoundGrid:
    wanted = len(grid.u) * len(grid.v)
    current = rough
    points: tuple[GridPoint, ...] = ()
    for _ in range(2):
        points = grid_crossings(light, current, grid, squares)
        if len(points) < max(4, share * wanted):
            return _not_found(f"only {len(points)} of {wanted} crossings stand out")
        try:
            current, points = _without_outliers(light.shape[::-1], points, grid)
        except PhotographError as error:
            return _not_found(str(error))
    if len(points) < max(4, share * wanted):
        return _not_found(f"only {len(points)} of {wanted} crossings fit together")
    limit = _WORST * max(1.0, max(light.shape) / _USUAL_ACROSS)
    if current.rms_residual > limit:
        return _not_found(f"the lines miss the map by {current.rms_residual:.2f} pixels")
    fits = f"which fit to {current.rms_residual:.2f} px"
    says = f"grid found: {len(points)} of {wanted} crossings, {fits}"
    return FoundGrid(current, says, len(points))


def _not_found(reason: str) -> FoundGrid:
    return FoundGrid(None, f"the grid was not found: {reason}; click four or more grid points")


def _unlabelled(reason: str) -> FoundGrid:
    says = f"the squares are found, but not which is which: {reason}"
    return FoundGrid(None, f"{says}; click one crossing that you know", needs_label=True)


def _without_outliers(
    size: tuple[int, int], points: tuple[GridPoint, ...], grid: PrintedGrid
) -> tuple[ScreenMap, tuple[GridPoint, ...]]:
    """Fit the map to crossings, leaving out those that the glowing line, or dirt, has shifted."""
    for _ in range(6):
        lens = len(points) >= _LENS_FROM
        fitted = fit_map(size, points, grid.rectangle, lens=lens)
        miss = np.linalg.norm(fitted.residuals, axis=1)
        limit = max(4.0 * float(np.median(miss)), 0.5)
        kept = tuple(point for point, each in zip(points, miss, strict=True) if each <= limit)
        if len(kept) == len(points) or len(kept) < 6:
            break
        points = kept
    return fitted, points


def _averaged(light: Array, block: int) -> Array:
    """Average over blocks (rows, columns)."""
    rows, columns = (n // block for n in light.shape)
    cut = light[: rows * block, : columns * block]
    averaged: Array = cut.reshape(rows, block, columns, block).mean(axis=(1, 3))
    return averaged
