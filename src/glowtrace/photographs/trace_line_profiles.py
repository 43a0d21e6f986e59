"""Where a glowing line lies, to a fraction of a pixel, in cuts across it.

Along a rough, smooth path the light is cut across at every pixel. Cuts are averaged over short
stretches, the stations, whose middle is then found with a weight of the line's own shape: of all
linear estimates for a Gaussian line in even noise that is the best one. How much the stations
scatter about a smooth curve says how good they are; so noise that neighbouring pixels share, by
JPEG, by the camera's own smoothing or by resampling, is counted as it is.

References
----------
G. M. Bernstein, M. Jarvis, "Shapes and shears, stars and smears", Astron. J. 123 (2002) 583-618
(moments with an adaptive Gaussian weight).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import interpolate, ndimage

from glowtrace.photographs.light import RectifiedScreen

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

WEAKEST: Final = 5.0
"""Brightness over noise from which a station counts as seen."""
_FLANK_FROM: Final = 3.4
_FLANK_TO: Final = 6.0
"""In widths from the middle: where the light beside the line is taken."""
FLOOR: Final = 0.02
"""Standard uncertainty in pixels that no station is believed to beat."""
_QUIETEST: Final = 0.5
"""Least noise of averaged cuts, relative to what independent pixels have."""
_STIFF: Final = 2.0
_CLEAR: Final = 0.9
"""Largest logarithm of a station's width over the typical one that is believed."""
_NARROWEST: Final = 0.8
_WIDEST: Final = 40.0
"""Allowed widths (standard deviation) in pixels."""


@dataclass(frozen=True, eq=False)
class Stations:
    """Middles of the line at stations along a path; index letter s, positions are (column, row)."""

    position: Array
    """(s, 2) in pixels of the rectified screen."""
    across: Array
    """(s, 2) unit vector along which the middle was searched."""
    uncertainty: Array
    """(s,) standard uncertainty along `across` in pixels."""
    width: Array
    """(s,) standard deviation at right angles to the line in pixels; NaN where it is not clear."""
    strength: Array
    """(s,) brightness over noise."""
    light: Array
    """(s,) brightness."""
    is_clipped: Mask
    piece: NDArray[np.int64]
    """(s,) number of the path that it lies on."""

    def selected(self, which: NDArray[np.bool_]) -> Stations:
        """Give some of the stations."""
        return replace(self, **{name: getattr(self, name)[which] for name in vars(self)})


def joined(parts: list[Stations]) -> Stations:
    """Put stations one after the other."""
    names = vars(parts[0])
    return Stations(**{name: np.concatenate([getattr(p, name) for p in parts]) for name in names})


def line_width(screen: RectifiedScreen, path: Array, across: Array, guess: float) -> float:
    """Give the typical width (standard deviation in pixels) of the line along a path (m, 2)."""
    width, slant = guess, float(np.median(_slant(path, across)))
    for _ in range(3):
        cuts, _ = _cuts(screen, path, across, width * slant)
        found = _widths(cuts.mean(axis=0, keepdims=True), width * slant)[0] / slant
        if not np.isfinite(found):
            break
        found = np.clip(found, width / 3, 3 * width)
        width = float(np.clip(found, _NARROWEST, _WIDEST))
    return width


def measure_stations(
    screen: RectifiedScreen,
    path: Array,
    across: Array,
    width: float,
    every: int,
    piece: int = 0,
) -> Stations:
    """Find the middle of the line at stations along a path.

    Parameters
    ----------
    screen
        The light.
    path
        (m, 2) smooth positions (column, row), one pixel apart along the line or along u.
    across
        (m, 2) unit vectors along which to cut.
    width
        Standard deviation of the line, at right angles to it, in pixels.
    every
        How many cuts make a station.
    piece
        Number of this path.
    """
    slant = _slant(path, across)
    stretch = width * float(np.median(slant))
    cuts, clipped = _cuts(screen, path, across, stretch)
    means = _means(cuts, every)
    shift, light = _middles(means, stretch)
    # Beside a short line, or at the edge of the picture, there is little to take the noise from.
    noise = max(_flank_noise(means, stretch), _QUIETEST * screen.noise / math.sqrt(every))
    strength = light / noise * math.sqrt(math.sqrt(math.pi) * stretch)
    formal = math.sqrt(2.0) * stretch / np.maximum(strength, 0.1)
    is_clipped = _means(clipped[:, None], every)[:, 0] > 0.2
    wide = _widths(_moved(means, shift), stretch)
    middle = np.minimum(np.arange(len(means)) * every + (every - 1) // 2, len(path) - 1)
    odd = (every - 1) / 2 - (every - 1) // 2
    later = np.minimum(middle + 1, len(path) - 1)
    base = (1 - odd) * path[middle] + odd * path[later]
    return Stations(
        position=base + shift[:, None] * across[middle],
        across=across[middle],
        uncertainty=formal,
        width=np.where(np.abs(np.log(wide / stretch)) < _CLEAR, wide, np.nan) / slant[middle],
        strength=strength,
        light=light,
        is_clipped=is_clipped,
        piece=np.full(len(means), piece, dtype=np.int64),
    )


def smooth_through(stations: Stations, path: Array, every: int) -> Array:
    """Give the path (m, 2) drawn smoothly through the stations that are seen."""
    seen = stations.strength >= WEAKEST
    if seen.sum() < 6:
        return path
    at = (np.arange(len(seen)) * every + (every - 1) / 2)[seen]
    index = np.arange(len(path), dtype=float)
    inside = np.clip(index, at[0], at[-1])
    weight = 1.0 / np.hypot(stations.uncertainty[seen], FLOOR) ** 2
    # A stiffness that evens out what is shorter than this many stations, and leaves the rest.
    stiffness = (_STIFF * every) ** 4 / every
    smooth = path.copy()
    for n in range(2):
        curve = interpolate.make_smoothing_spline(
            at, stations.position[seen, n], weight / weight.mean(), lam=stiffness
        )
        # Before the first station and after the last one the path goes on as it was.
        beyond = path[:, n] - np.interp(inside, index, path[:, n])
        smooth[:, n] = curve(inside) + beyond
    return smooth


def _cuts(screen: RectifiedScreen, path: Array, across: Array, width: float) -> tuple[Array, Array]:
    """Light along cuts (m, w), and whether the middle is saturated (m,)."""
    half = math.ceil(_FLANK_TO * width)
    offset = np.arange(-half, half + 1.0)
    columns = path[:, :1] + across[:, :1] * offset
    rows = path[:, 1:] + across[:, 1:] * offset
    cuts = ndimage.map_coordinates(screen.light, [rows, columns], order=1, mode="constant")
    near = ndimage.map_coordinates(
        screen.is_clipped.astype(np.float32), [path[:, 1], path[:, 0]], order=1
    )
    return cuts, np.asarray(near, dtype=np.float64)


def _slant(path: Array, across: Array) -> Array:
    """By how much (m,) a slanting cut makes the line look wider."""
    along = np.gradient(path, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    sine = np.abs(along[:, 0] * across[:, 1] - along[:, 1] * across[:, 0])
    slant: Array = 1.0 / np.clip(sine, 0.1, 1.0)
    return slant


def _means(cuts: Array, every: int) -> Array:
    """Average rows (m, w) in runs; a shorter rest is left out."""
    count = max(1, len(cuts) // every)
    every = min(every, len(cuts))
    means: Array = cuts[: count * every].reshape(count, every, -1).mean(axis=1)
    return means


def _offsets(cuts: Array) -> Array:
    half = cuts.shape[1] // 2
    return np.arange(-half, half + 1.0)


def _levelled(cuts: Array, width: float, shift: Array) -> Array:
    """Take a straight line through the flanks off each cut (s, w)."""
    x = _offsets(cuts) - np.clip(shift, -2 * width, 2 * width)[:, None]
    left = (x <= -_FLANK_FROM * width) & (x >= -_FLANK_TO * width)
    right = (x >= _FLANK_FROM * width) & (x <= _FLANK_TO * width)

    def mean(values: Array, where: Mask) -> Array:
        total: Array = (values * where).sum(axis=1) / np.maximum(where.sum(axis=1), 1)
        return total

    low, high = mean(cuts, left), mean(cuts, right)
    x_low, x_high = mean(x, left), mean(x, right)
    apart = np.maximum(x_high - x_low, 1.0)
    slope = (high - low) / apart
    levelled: Array = cuts - (low[:, None] + slope[:, None] * (x - x_low[:, None]))
    return levelled


def _middles(cuts: Array, width: float) -> tuple[Array, Array]:
    """Offset of the middle (s,) in pixels, and light (s,) there."""
    x = _offsets(cuts)
    shift = np.zeros(len(cuts))
    light = np.zeros(len(cuts))
    for _ in range(12):
        level = _levelled(cuts, width, shift)
        weight = np.exp(-0.5 * ((x - shift[:, None]) / width) ** 2)
        total = (weight * level).sum(axis=1)
        light = total / (weight**2).sum(axis=1)
        safe = np.maximum(total, 1e-3 * np.abs(weight * level).sum(axis=1) + 1e-30)
        move = 2.0 * (weight * level * (x - shift[:, None])).sum(axis=1) / safe
        shift = np.clip(shift + np.clip(move, -width, width), -3 * width, 3 * width)
        if np.all(np.abs(move) < 1e-4):
            break
    return shift, light


def _flank_noise(cuts: Array, width: float) -> float:
    """Standard deviation of averaged cuts from pixel to pixel beside the line."""
    x = np.abs(_offsets(cuts))
    flank = cuts[:, x >= _FLANK_FROM * width]
    half = flank.shape[1] // 2
    rest = np.concatenate(
        [side - side.mean(axis=1, keepdims=True) for side in (flank[:, :half], flank[:, half:])],
        axis=1,
    )
    lost = math.sqrt(max(half - 1, 1) / max(half, 1))
    return float(max(1.4826 * np.median(np.abs(rest)) / lost, 1e-12))


def _moved(cuts: Array, shift: Array) -> Array:
    """Move cuts (s, w) so that their middles line up."""
    x = _offsets(cuts)
    return np.stack([np.interp(x + s, x, cut) for s, cut in zip(shift, cuts, strict=True)])


def _widths(cuts: Array, guess: float) -> Array:
    """Standard deviation (s,) of centred cuts in pixels; NaN where it does not come out."""
    x = _offsets(cuts)
    level = _levelled(cuts, guess, np.zeros(len(cuts)))
    width = np.full(len(cuts), guess)
    for _ in range(20):
        weight = np.exp(-0.5 * (x / width[:, None]) ** 2)
        total = np.maximum((weight * level).sum(axis=1), 1e-30)
        seen = (weight * level * x**2).sum(axis=1) / total
        # A Gaussian of variance s2 seen through a weight of variance w2 has s2 w2 / (s2 + w2).
        rest = 1.0 / np.maximum(seen, 1e-3) - 1.0 / width**2
        found = np.sqrt(np.where(rest > 0, 1.0 / np.maximum(rest, 1e-9), np.nan))
        width = np.where(np.isfinite(found), np.clip(found, 0.5 * width, 2 * width), width)
    return np.asarray(found)
