"""Where the printed lines of a grid cross in a photograph, to a fraction of a pixel.

Near each expected crossing the light is averaged along the arms of either line that leave it, and
the line is the place where a ridge (or a groove) of a line's width stands out of the average most.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.grid_lines import PrintedGrid
from glowtrace.photographs.grid_points import GridPoint

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_REACH: Final = 0.2
"""How far beside its expected place a line is looked for, in pitches."""
_ARM: Final = (0.08, 0.45)
"""Between which distances from the crossing the arms are averaged, in pitches; of dim lines the
further end is whole squares further out."""
_ALONG: Final = 32
_ACROSS: Final = 61
"""Samples along an arm, for each square, and across it."""
_CLEAR: Final = 3.0
"""A line's height over noise from which it counts."""
_NARROWEST: Final = 1.2
"""Standard deviation of the narrowest line that is looked for, in pixels of the photograph."""
_THIN: Final = 0.018
"""And in pitches."""
_SYSTEMATIC: Final = 0.15
"""Standard uncertainty in pixels that no crossing is believed to beat."""


def grid_crossings(
    light: Array, rough: ScreenMap, grid: PrintedGrid, squares: int = 1
) -> tuple[GridPoint, ...]:
    """Find the crossings of the printed lines near where a rough map has them.

    Parameters
    ----------
    light
        (rows, columns) of the photograph, linear, in any unit.
    rough
        Right to a fifth of the pitch.
    grid
        What is printed.
    squares
        How far along its lines a crossing is measured. Beyond one, neighbours share what they are
        measured by, and their uncertainties are larger by so much that together they claim no more.

    Returns
    -------
    tuple
        The crossings at which both lines stand out, with their uncertainties.
    """
    places = np.array([(u, v) for u in grid.u for v in grid.v])
    scale = np.linalg.norm(rough.slopes(places), axis=1)
    both = [_profiles(light, rough, grid, places, axis, squares) for axis in (0, 1)]
    step = 2 * _REACH * grid.pitch / (_ACROSS - 1)
    # In samples: of each line by itself, since the screen may be seen askew.
    width = np.maximum(_NARROWEST / (scale * step), _THIN * grid.pitch / step)
    offsets, errors, clear = [], [], []
    ridges = [_ridges(both[axis], float(np.median(width[:, axis]))) for axis in (0, 1)]
    sign = _sign(ridges)
    for axis in (0, 1):
        offset, error, is_clear = _tops(sign * ridges[axis], float(np.median(width[:, axis])))
        offsets.append(offset * step)
        errors.append(error * step * scale[:, axis])
        clear.append(is_clear)
    found = np.flatnonzero(clear[0] & clear[1])
    if len(found) == 0:
        return ()
    at = rough.pixels(places[found] + np.column_stack(offsets)[found])
    shared = math.sqrt(max(2 * (_ARM[1] + squares - 1), 1.0))
    error = np.hypot(shared * np.maximum(*errors)[found], _SYSTEMATIC)
    return tuple(
        GridPoint(float(u), float(v), float(column), float(row), float(sigma))
        for (u, v), (column, row), sigma in zip(places[found], at, error, strict=True)
    )


def _profiles(
    light: Array, rough: ScreenMap, grid: PrintedGrid, places: Array, axis: int, squares: int
) -> Array:
    """Light (3, n, w) across the lines along an axis: both arms together, and each by itself.

    An arm ends where the screen does. NaN where it is too short then, or lies outside the
    photograph; together then is the other one.
    """
    across = np.linspace(-_REACH, _REACH, _ACROSS) * grid.pitch
    share, trimmed = np.linspace(0.0, 1.0, _ALONG * squares), _ALONG * squares // 4
    near, least, most = (each * grid.pitch for each in (*_ARM, _ARM[1] + squares - 1))
    arms = []
    for side, edge in ((-1.0, grid.rectangle[1 - axis]), (1.0, grid.rectangle[3 - axis])):
        room = side * (edge - places[:, 1 - axis])
        far = np.clip(room, least, most)
        along = near + (far - near)[:, None] * share
        at = np.empty((len(places), len(share), _ACROSS, 2))
        at[..., axis] = places[:, axis, None, None] + across
        at[..., 1 - axis] = (places[:, 1 - axis, None] + side * along)[:, :, None]
        pixels = rough.pixels(at.reshape(-1, 2))
        cut = ndimage.map_coordinates(light, pixels.T[::-1], order=1, cval=np.nan)
        # Sorted and without the outer quarters: the trace, or dirt, covers a part of an arm.
        part = np.sort(cut.reshape(at.shape[:3]), axis=1)[:, trimmed:-trimmed]
        arm = part.mean(axis=1)
        arm[(room < least) | np.isnan(cut.reshape(len(places), -1)).any(axis=1)] = np.nan
        arms.append(arm)
    lone = np.isnan(arms[0]) | np.isnan(arms[1])
    together = np.where(lone, np.where(np.isnan(arms[0]), arms[1], arms[0]), sum(arms) / 2)
    return np.stack([together, *arms])


def _ridges(profiles: Array, width: float) -> Array:
    """How much profiles (3, n, w) stand out at each place, on the scale of a line's width."""
    relative = profiles / np.maximum(np.median(profiles, axis=-1, keepdims=True), 1e-9)
    fine = ndimage.gaussian_filter1d(relative, width, axis=-1, mode="nearest")
    coarse = ndimage.gaussian_filter1d(relative, 2.5 * width, axis=-1, mode="nearest")
    ridges: Array = fine - coarse
    return ridges


def _sign(ridges: list[Array]) -> float:
    """Say whether the print is brighter (1) or darker (-1) than the sheet: as most lines are."""
    middle = slice(_ACROSS // 4, -_ACROSS // 4)
    seen = [each[0][np.isfinite(each[0]).all(axis=1)][:, middle] for each in ridges]
    if min(map(len, seen)) == 0:
        return 1.0
    found = [np.median((s * each).max(axis=1)) for s in (1.0, -1.0) for each in seen]
    return 1.0 if found[0] + found[1] > found[2] + found[3] else -1.0


def _tops(ridges: Array, width: float) -> tuple[Array, Array, Mask]:
    """Offsets (n,) of lines and their uncertainties, in samples, and which are clear."""
    middle = _ACROSS // 2
    tops, heights = [], []
    for each in ridges:
        inner = np.nan_to_num(each, nan=-1.0)[:, 2:-2]
        top = np.clip(inner.argmax(axis=1) + 2, 2, _ACROSS - 3)
        n = np.arange(len(each))
        before, at, after = each[n, top - 1], each[n, top], each[n, top + 1]
        bend = np.minimum(before - 2 * at + after, -1e-12)
        tops.append(top - middle + np.clip(0.5 * (before - after) / bend, -1.0, 1.0))
        heights.append((at, -bend, top))
    height, bend, top = heights[0]
    # What the arms do not share is noise; of a lone arm it is what the others have.
    noise, slope_noise = _noise((ridges[1] - ridges[2]) / 2)
    clear = (height > _CLEAR * noise) & (np.abs(top - middle) < 0.8 * middle)
    # Two arms that see the line at different places see two things.
    apart = np.abs(tops[1] - tops[2]) > max(3.0 * width, 4.0)
    clear &= ~(np.isfinite(ridges[1:, :, middle]).all(axis=0) & apart)
    return tops[0], slope_noise / bend, clear


def _noise(unshared: Array) -> tuple[Array, Array]:
    """Standard deviations (n,) of values (n, w), and of their steps: of most, as edges count."""
    found = []
    for values in (unshared, np.diff(unshared, axis=1)):
        with np.errstate(invalid="ignore"):
            each = 1.4826 * np.median(np.abs(values), axis=1)
        known = each[np.isfinite(each)]
        usual = float(np.median(known)) if len(known) else 0.0
        found.append(np.where(np.isfinite(each), each, 1.5 * usual) + 1e-9)
    return found[0], found[1]
