"""Finding the printed grid of a screen in a photograph without any click.

Straight lines are found by their votes (Hough). Two lines of either direction, taken as the first
and the last of the printed ones or as the edges of the screen, give a map; the map under which all
printed lines fall on lines of the photograph, and the halves between them on none, is the one. Its
crossings are then measured and the map is fitted to them. Where this is not clear it says so, and
clicks are needed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from glowtrace.photographs.curvature import curvature
from glowtrace.photographs.grid import ScreenMap, fit_screen_map
from glowtrace.photographs.grid_corners import corner_choices, corner_places
from glowtrace.photographs.grid_labelling import Labelling
from glowtrace.photographs.grid_lines import PrintedGrid, grey, grid_crossings
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.line_votes import line_votes, peaks
from glowtrace.photographs.photograph import Photograph, PhotographError, stored_light
from glowtrace.watching import Cancelled, Progress, Watch

Array = NDArray[np.float64]

_ACROSS: Final = 640
"""About as many pixels along the longer side are searched."""
_LEAN: Final = math.radians(35.0)
"""Furthest that a line may lean from upright or level."""
_STANDS_OUT: Final = 4.0
"""Relief over noise that counts in full."""
_MOST_LINES: Final = 20
_APART: Final = (6, 12)
"""Two lines are further apart than that many pixels, or steps of the angle."""
_FAINTEST: Final = 0.12
"""Votes of a line relative to the clearest one, which may be the edge of the screen."""
_WORST: Final = 0.75
"""Largest root mean square distance of the crossings from the map, in pixels: sound maps fitted to
0.65 or better, labellings that were wrong to 0.9 or worse."""
_ENOUGH: Final = 0.4
"""Share of the crossings that must be found."""
_RIVAL: Final = 0.6
"""From which part of the best agreement a shifted labelling is looked at closely."""
_CLEARER: Final = 1.1
"""By how much the best labelling must beat one that is shifted by a line."""
_WORST_SCORE: Final = 0.15
_LIKELY: Final = 60
"""How many labellings are looked at closely."""
_FEW_SAMPLES: Final = 12
_MANY_SAMPLES: Final = 80
_AT_ONCE: Final = 4000
"""Labellings that are looked at between two questions whether to go on."""
_SMOOTHING: Final = 0.02
"""Standard deviation of the smoothing of a faint grid, in pitches."""
_BRIGHT: Final = 0.3
"""Light that the middle of a faint grid's screen is brightened to."""
_LENS_FROM: Final = 12
"""Crossings from which the lens's distortion is fitted as well."""


@dataclass(frozen=True)
class FoundGrid:
    """The outcome of a search: a map, or the reason why there is none."""

    screen_map: ScreenMap | None
    says: str
    crossings: int = 0
    """Crossings of printed lines on which the map rests."""

    def as_dict(self) -> dict[str, Any]:
        """Give what a page or a file needs, in plain numbers."""
        found = self.screen_map.as_dict() if self.screen_map else None
        return {"screen_map": found, "says": self.says, "crossings": self.crossings}


def find_grid(
    photograph: Photograph,
    grid: PrintedGrid,
    *,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> FoundGrid:
    """Find the printed grid by itself.

    When it holds: the whole grid is in the photograph, upright within 35 degrees, and its lines
    stand out. Otherwise `says` tells what is wrong, and four clicks do it (`fit_screen_map`, then
    `refine_grid`).

    Parameters
    ----------
    photograph, grid
        What is looked at, and what is printed there.
    progress, cancelled
        Told how far it is, and asked whether to give up.

    Raises
    ------
    GivenUpError
        It was cancelled.
    """
    watch = Watch(progress, cancelled)
    if len(grid.u) < 3 or len(grid.v) < 3:
        return _not_found("the grid has fewer than three lines each way")
    block = max(1, round(max(photograph.width, photograph.height) / _ACROSS))
    reason = ""
    best: tuple[float, ScreenMap] | None = None
    for sign, part, kind in ((-1.0, 0.0, "dark"), (1.0, 0.45, "bright")):
        part_watch = watch.stretch(part, part + 0.45)
        part_watch.note(0.0, f"looking for {kind} lines")
        relief = _line_relief(grey(photograph, block), sign)
        upright, level = _straight_lines(relief)
        if len(upright) < 3 or len(level) < 3:
            few = f"only {len(upright)} upright and {len(level)} level lines stand out"
            reason = reason or few
            continue
        found = _best_map(photograph, grid, relief, block, upright, level, part_watch)
        if found is None:
            reason = "which printed line is which is not clear"
        elif best is None or found[0] > best[0]:
            best = found
    watch.note(0.9, "measuring the crossings")
    return refine_grid(photograph, best[1], grid) if best else _not_found(reason)


def refine_grid(photograph: Photograph, rough: ScreenMap, grid: PrintedGrid) -> FoundGrid:
    """Improve a map, for example from four clicks, by the crossings of the printed lines.

    The rough map must be right to a fifth of the pitch. Lines that drown in the noise of single
    pixels, as in a dark room, are looked for once more with the noise smoothed.
    """
    found = _refined(photograph, rough, grid)
    if found.screen_map is None:
        smoothed = _refined(_smoothed(photograph, rough, grid), rough, grid)
        found = found if smoothed.screen_map is None else smoothed
    return found


def _refined(photograph: Photograph, rough: ScreenMap, grid: PrintedGrid) -> FoundGrid:
    wanted = len(grid.u) * len(grid.v)
    current = rough
    points: tuple[GridPoint, ...] = ()
    for _ in range(2):
        points = grid_crossings(photograph, current, grid)
        if len(points) < max(4, _ENOUGH * wanted):
            return _not_found(f"only {len(points)} of {wanted} crossings stand out")
        try:
            current, points = _without_outliers(photograph, points, grid)
        except PhotographError as error:
            return _not_found(str(error))
    if current.rms_residual > _WORST:
        return _not_found(f"the lines miss the map by {current.rms_residual:.2f} pixels")
    fits = f"which fit to {current.rms_residual:.2f} px"
    says = f"grid found: {len(points)} of {wanted} crossings, {fits}"
    return FoundGrid(current, says, len(points))


def _smoothed(photograph: Photograph, rough: ScreenMap, grid: PrintedGrid) -> Photograph:
    """Give the light of all colours together, without the noise that is finer than a line.

    Brightened, so that eight bits tell the printed lines; a trace may become white by that.
    """
    light = grey(photograph)
    middle = np.array([[np.mean(grid.rectangle[::2]), np.mean(grid.rectangle[1::2])]])
    pitch = grid.pitch * float(np.linalg.norm(rough.slopes(middle)[0], axis=0).mean())
    smooth = ndimage.gaussian_filter(light, _SMOOTHING * pitch)
    u0, v0, u1, v1 = grid.rectangle
    share = (np.arange(24) + 0.5) / 24
    places = np.array([(u0 + a * (u1 - u0), v0 + b * (v1 - v0)) for a in share for b in share])
    seen = ndimage.map_coordinates(smooth, rough.pixels(places).T[::-1], order=1, mode="nearest")
    bright = _BRIGHT / max(float(np.median(seen)), 1e-6)
    stored = stored_light(np.clip(smooth * bright, 0.0, 1.0))
    return replace(photograph, pixels=np.repeat(stored[:, :, None], 3, axis=2))


def _not_found(reason: str) -> FoundGrid:
    return FoundGrid(None, f"the grid was not found: {reason}; click four or more grid points")


def _without_outliers(
    photograph: Photograph, points: tuple[GridPoint, ...], grid: PrintedGrid
) -> tuple[ScreenMap, tuple[GridPoint, ...]]:
    """Fit the map to crossings, leaving out those that the glowing line, or dirt, has shifted."""
    for _ in range(4):
        lens = len(points) >= _LENS_FROM
        fitted = fit_screen_map(photograph, points, grid.rectangle, lens=lens)
        miss = np.linalg.norm(fitted.residuals, axis=1)
        limit = max(4.0 * float(np.median(miss)), 0.5)
        kept = tuple(point for point, each in zip(points, miss, strict=True) if each <= limit)
        if len(kept) == len(points) or len(kept) < 6:
            break
        points = kept
    return fitted, points


def _line_relief(light: Array, sign: float) -> Array:
    """How much each pixel looks like part of a thin line (0 to 1), bright for +1, dark for -1."""
    relative = sign * np.log(light + 0.3 * float(np.median(light)) + 1e-4)
    bend = curvature(relative, 1.5)
    high, low = bend.high, bend.low
    relief = np.clip(-low - np.abs(high), 0.0, None)
    relief[:4], relief[-4:], relief[:, :4], relief[:, -4:] = 0.0, 0.0, 0.0, 0.0
    # A bright trace is one line among many: all that stands out counts alike.
    noise = 1.4826 * float(np.median(np.abs(low - np.median(low))))
    return np.asarray(np.clip(relief / max(_STANDS_OUT * noise, 1e-9), 0.0, 1.0))


def _straight_lines(relief: Array) -> tuple[list[Array], list[Array]]:
    """Straight lines (a, b, c) with a x + b y = c: upright ones, then level ones, in order."""
    crest = relief > 0.5
    families = []
    middle_row, middle_column = relief.shape[0] / 2, relief.shape[1] / 2
    for centre in (0.0, math.pi / 2):
        angles = centre + np.linspace(-_LEAN, _LEAN, 281)
        votes, distances = line_votes(crest, angles)
        # Take off what is everywhere: many short pieces make no line.
        clear = np.clip(votes - ndimage.median_filter(votes, size=(41, 1)), 0.0, None)
        lines = [
            np.array([math.cos(angles[column]), math.sin(angles[column]), distances[row]])
            for row, column in peaks(clear, _APART, _FAINTEST * float(clear.max()), _MOST_LINES)
        ]
        if centre == 0.0:
            lines.sort(key=lambda each: (each[2] - each[1] * middle_row) / each[0])
        else:
            lines.sort(key=lambda each: (each[2] - each[0] * middle_column) / each[1])
        families.append(lines)
    return families[0], families[1]


def _best_map(
    photograph: Photograph,
    grid: PrintedGrid,
    relief: Array,
    block: int,
    upright: list[Array],
    level: list[Array],
    watch: Watch,
) -> tuple[float, ScreenMap] | None:
    """Give the map whose printed lines fall on lines best, and how well; None where not clear."""
    choices = corner_choices(upright, level, len(grid.u), len(grid.v), relief.shape)
    if len(choices) == 0:
        return None
    labelling = Labelling(relief, grid)
    places = list(corner_places(grid))
    matrices = np.concatenate([labelling.matrices(choices, each) for each in places])
    agreement = np.empty(len(matrices))
    for first in range(0, len(matrices), _AT_ONCE):
        watch.note(0.8 * first / len(matrices), "trying which line is which")
        some = slice(first, first + _AT_ONCE)
        agreement[some] = labelling.agreement(matrices[some], _FEW_SAMPLES)
    watch.note(0.8, "trying which line is which")
    likely = np.argsort(-agreement)[:_LIKELY]
    scores = labelling.agreement(matrices[likely], _MANY_SAMPLES)
    best = matrices[likely[scores.argmax()]]
    ends = places[0]
    # A labelling that is off by one line looks nearly as good: each is given its best chance.
    beside = labelling.shifted(best)
    near = labelling.agreement(beside, _MANY_SAMPLES) > _RIVAL * scores.max()
    rivals = np.concatenate([best[None], beside[near]])
    polished = sorted(
        (labelling.polished(corners, ends) for corners in labelling.pixels(rivals, ends)),
        key=lambda each: -each[0],
    )
    score, corners = polished[0]
    second = polished[1][0] if len(polished) > 1 else 0.0
    if score < _WORST_SCORE or score < _CLEARER * second:
        return None
    whole = (corners + 0.5) * block - 0.5
    points = [
        GridPoint(float(u), float(v), float(column), float(row), float(block))
        for (u, v), (column, row) in zip(ends, whole, strict=True)
    ]
    try:
        return score, fit_screen_map(photograph, points, grid.rectangle)
    except PhotographError:
        return None
