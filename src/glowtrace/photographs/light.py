"""The screen as it would be seen square on: rectified, without grid and room light, one channel.

Nothing outside the screen is looked at, so reflections beside it do not matter. The photograph is
first averaged over small blocks, to about as many pixels as the screen is looked at with.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from glowtrace.photographs.grid import ScreenMap, corners
from glowtrace.photographs.photograph import CLIPPED, Photograph, PhotographError, linear_light

Array = NDArray[np.float64]
Light = NDArray[np.float32]
Mask = NDArray[np.bool_]

_MOST_ACROSS: Final = 1200
"""Most pixels along the longer side of the rectified screen."""
_FEWEST_ACROSS: Final = 40
_BLOCKS: Final = 14
"""Blocks along the longer side from which the room light is taken."""
_SIMPLE: Final[dict[str, tuple[float, float, float]]] = {
    "red": (1.0, 0.0, 0.0),
    "green": (0.0, 1.0, 0.0),
    "blue": (0.0, 0.0, 1.0),
    "all colours": (1.0, 1.0, 1.0),
}
_FINEST_GRID: Final = 8.0
"""Pitch in pixels from which a grid is taken off."""
_FEWEST_LINES: Final = 3
_WORTH_MIXING: Final = 1.2
"""By how much a mixture must beat the best simple choice."""


@dataclass(frozen=True, eq=False)
class RectifiedScreen:
    """Light on the screen in one channel, with room light and grid taken off."""

    light: Array
    """(rows, columns) in arbitrary units, rows upwards (v), columns along u; 0 where hidden."""
    is_seen: Mask
    """(rows, columns) within the photograph."""
    is_clipped: Mask
    """(rows, columns) where the photograph is saturated."""
    noise: float
    """Standard deviation of `light` from pixel to pixel where nothing glows."""
    channel: str
    """Which colour, or mixture, the light is."""
    contrast: float
    """Brightest light over noise, both smoothed, in that channel."""
    lowest: tuple[float, float]
    """(u, v) in m of the middle of the first pixel."""
    pixel: float
    """Side of a pixel in m."""
    photograph_pixels: float
    """Pixels of the photograph along the side of one, at the middle of the screen."""

    def places(self, columns: Array, rows: Array) -> Array:
        """Places (n, 2) in m of positions in `light`."""
        u0, v0 = self.lowest
        return np.column_stack([u0 + self.pixel * columns, v0 + self.pixel * rows])


def rectify(
    photograph: Photograph, screen_map: ScreenMap, *, grid_pitch: float | None = None
) -> RectifiedScreen:
    """Give the light on the screen, in the channel or mixture in which the line stands out best.

    Parameters
    ----------
    photograph, screen_map
        See `load_photograph` and `fit_screen_map`.
    grid_pitch
        Distance in m of the lines of a printed grid, which are then taken off.

    Raises
    ------
    PhotographError
        If the screen covers too few pixels or lies outside the photograph.
    """
    colours, clipped, is_seen, lowest, pixel, share = _square_on(photograph, screen_map)
    pitch = grid_pitch / pixel if grid_pitch is not None else 0.0
    flat = np.stack([_glow(colours[:, :, n], is_seen, pitch) for n in range(3)], axis=2)
    channel, weights, contrast = _best_channel(flat, is_seen)
    used = np.abs(weights) > 0.05 * np.abs(weights).max()
    light = np.where(is_seen, flat @ weights, 0.0)
    return RectifiedScreen(
        light,
        is_seen,
        np.asarray((clipped[:, :, used] > 0.02).any(axis=2)),
        _noise(light, is_seen),
        channel,
        contrast,
        lowest,
        pixel,
        share,
    )


def grey_screen(
    light: Light, is_seen: Mask, lowest: tuple[float, float], pixel: float, grid_pitch: float
) -> RectifiedScreen:
    """Give a screen that was seen square on in grey, with room light and grid taken off.

    Parameters
    ----------
    light
        (rows, columns), of full light.
    is_seen
        (rows, columns) within the picture.
    lowest, pixel
        (u, v) of the middle of the first pixel, and its side, in m.
    grid_pitch
        Distance in m of the lines of the printed grid.
    """
    glow = np.where(is_seen, _glow(light, is_seen, grid_pitch / pixel), 0.0)
    return RectifiedScreen(
        glow,
        is_seen,
        np.asarray(light >= linear_light(np.array([CLIPPED], np.uint8))[0]),
        _noise(glow, is_seen),
        "all colours",
        float("nan"),
        lowest,
        pixel,
        1.0,
    )


def _square_on(
    photograph: Photograph, screen_map: ScreenMap
) -> tuple[Light, Light, Mask, tuple[float, float], float, float]:
    """Resample the screen's rectangle; colours and share of clipped light (rows, columns, 3)."""
    u0, v0, u1, v1 = screen_map.rectangle
    middle = np.array([[(u0 + u1) / 2, (v0 + v1) / 2]])
    density = math.sqrt(abs(float(np.linalg.det(screen_map.slopes(middle)[0]))))
    block = max(1, round(density * max(u1 - u0, v1 - v0) / _MOST_ACROSS))
    pixel = block / density
    columns, rows = int((u1 - u0) / pixel), int((v1 - v0) / pixel)
    if min(columns, rows) * block < _FEWEST_ACROSS:
        given = f"{(u1 - u0) * density:.0f} x {(v1 - v0) * density:.0f} pixels"
        allowed = f"take it closer: {_FEWEST_ACROSS} or more each way are needed"
        raise PhotographError(f"the screen covers only {given}; {allowed}")
    lowest = u0 + (u1 - u0 - (columns - 1) * pixel) / 2, v0 + (v1 - v0 - (rows - 1) * pixel) / 2
    v, u = np.mgrid[0:rows, 0:columns]
    places = np.column_stack([lowest[0] + pixel * u.ravel(), lowest[1] + pixel * v.ravel()])
    at = screen_map.pixels(places)
    is_seen = (
        (at >= 0).all(axis=1) & (at[:, 0] <= photograph.width - 1)
        & (at[:, 1] <= photograph.height - 1)
    )  # fmt: skip
    if is_seen.mean() < 0.1:
        raise PhotographError("the screen lies outside the photograph; check the grid points")
    low = np.maximum(np.floor(at[is_seen].min(axis=0)).astype(int) - 2 * block, 0)
    high = np.ceil(at[is_seen].max(axis=0)).astype(int) + 2 * block + 1
    cut = photograph.pixels[low[1] : high[1], low[0] : high[0]]
    where = (at - low + 0.5) / block - 0.5
    light, clipped = _averaged(cut, block)

    def resampled(image: Light) -> Light:
        flat = ndimage.map_coordinates(image, where.T[::-1], order=1, mode="nearest")
        return np.asarray(flat.reshape(rows, columns), dtype=np.float32)

    colours = np.stack([resampled(light[:, :, n]) for n in range(3)], axis=2)
    clips = np.stack(
        [
            resampled(clipped[:, :, n])
            if clipped[:, :, n].any()
            else np.zeros_like(colours[:, :, n])
            for n in range(3)
        ],
        axis=2,
    )
    return colours, clips, is_seen.reshape(rows, columns), lowest, pixel, float(block)


def _averaged(stored: NDArray[np.uint8], block: int) -> tuple[Light, Light]:
    """Average light, and the share of clipped values, over blocks; both (rows, columns, 3)."""
    clipped = stored >= CLIPPED
    if block == 1:
        return linear_light(stored), clipped.astype(np.float32)
    rows, columns = stored.shape[0] // block, stored.shape[1] // block
    light = np.zeros((rows, columns, 3), dtype=np.float32)
    share = np.zeros_like(light)
    for y in range(block):
        for x in range(block):
            part = slice(y, rows * block, block), slice(x, columns * block, block)
            light += linear_light(stored[part])
            share += clipped[part]
    light /= block**2
    share /= block**2
    return light, share


def _glow(image: Light, is_seen: Mask, pitch: float) -> Array:
    """Take the room light and the grid off one colour."""
    room = _room_light(image, is_seen)
    if pitch <= _FINEST_GRID:
        return image - room
    for axis in (0, 1):
        share = _grid(image / np.maximum(room, 1e-6) - 1.0, is_seen, pitch, axis)
        along = np.expand_dims(share, 1 - axis)
        # A dark print swallows the glow as well; a bright one only adds to the room light.
        image = np.where(along < 0.0, image / (1.0 + along), image - along * room)
    return image - room


def _room_light(image: Light, is_seen: Mask) -> Array:
    """Light that varies slowly: medians of blocks, smoothly joined (rows, columns)."""
    side = max(math.ceil(max(image.shape) / _BLOCKS), 8)
    rows, columns = (max(1, round(n / side)) for n in image.shape)
    edges_r = np.linspace(0, image.shape[0], rows + 1).astype(int)
    edges_c = np.linspace(0, image.shape[1], columns + 1).astype(int)
    overall = float(np.median(image[is_seen]))
    medians = np.full((rows, columns), overall)
    for r in range(rows):
        for c in range(columns):
            part = slice(edges_r[r], edges_r[r + 1]), slice(edges_c[c], edges_c[c + 1])
            seen = image[part][is_seen[part]]
            if len(seen) > 20:
                # Less than the median: a wide line may cover half of a block.
                medians[r, c] = np.quantile(seen, 0.4)
    medians = ndimage.median_filter(medians, size=3, mode="nearest")
    at_r = (np.arange(image.shape[0]) + 0.5) / image.shape[0] * rows - 0.5
    at_c = (np.arange(image.shape[1]) + 0.5) / image.shape[1] * columns - 0.5
    along = ndimage.map_coordinates(
        medians, np.array(np.meshgrid(at_r, np.arange(columns), indexing="ij")), order=1,
        mode="nearest",
    )  # fmt: skip
    left = np.clip(np.floor(at_c).astype(int), 0, max(columns - 2, 0))
    right = np.minimum(left + 1, columns - 1)
    share = np.clip(at_c - left, 0.0, 1.0)
    smooth: Array = along[:, left] * (1 - share) + along[:, right] * share
    return smooth


def _grid(relative: Array, is_seen: Mask, pitch: float, axis: int) -> Array:
    """Give what repeats with the pitch (in pixels) along an axis (n,), relative to the room light.

    The lines' profile is the median over all lines, so a trace that lies on one of them stays.
    """
    count = relative.shape[axis]
    if count < _FEWEST_LINES * pitch:
        return np.zeros(count)
    if is_seen.all():  # the same, ten times as fast
        profile = np.median(relative, axis=1 - axis)
    else:
        hidden = np.where(is_seen, relative, np.nan)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)  # a row that is not seen at all
            profile = np.nan_to_num(np.nanmedian(hidden, axis=1 - axis))
    at = np.arange(count) % pitch
    bins = int(pitch)
    number = np.minimum((at / pitch * bins).astype(int), bins - 1)
    folded = np.array([np.median(profile[number == n]) for n in range(bins)])
    folded -= np.median(folded)
    folded[np.abs(folded) < 4.0 * _scatter(folded[:, None])[0]] = 0.0
    middles = (np.arange(-1, bins + 1) + 0.5) / bins * pitch
    share = np.interp(at, middles, np.concatenate([folded[-1:], folded, folded[:1]]))
    return np.asarray(np.maximum(share, -0.9))


def _best_channel(flat: Array, is_seen: Mask) -> tuple[str, Array, float]:
    """Choose the colour or mixture with the best contrast: name, weights (3,), contrast."""
    smooth = np.stack([ndimage.gaussian_filter(flat[:, :, n], 1.5) for n in range(3)], axis=2)
    values = smooth[is_seen]
    if len(values) > 150_000:
        values = values[:: len(values) // 150_000]
    spread = np.maximum(_scatter(values), 1e-9)
    total = (np.clip(values, 0.0, None) / spread).sum(axis=1)
    limit = np.quantile(total, 0.985)
    bright = values[total >= limit].mean(axis=0)
    rest = values[total < np.quantile(total, 0.9)]
    covariance = np.cov(rest.T) + 1e-12 * np.eye(3)
    covariance += 0.05 * np.trace(covariance) / 3 * np.eye(3)

    def contrast(weights: Array) -> float:
        return float(weights @ bright / math.sqrt(weights @ covariance @ weights))

    simple = {name: np.array(weights) for name, weights in _SIMPLE.items()}
    best = max(simple, key=lambda name: contrast(simple[name]))
    mixed = np.linalg.solve(covariance, bright)
    if contrast(mixed) > _WORTH_MIXING * contrast(simple[best]):
        weights = mixed / np.abs(mixed).max()
        shares = " ".join(
            f"{share:+.2f} {name}" for share, name in zip(weights, _SIMPLE, strict=False)
        )
        return f"mixture {shares}", weights, contrast(mixed)
    return best, simple[best], contrast(simple[best])


def _scatter(values: Array) -> Array:
    """Standard deviation (c,) of columns (n, c), from the middle of their distribution."""
    middle = np.median(values, axis=0)
    scatter: Array = 1.4826 * np.median(np.abs(values - middle), axis=0)
    return scatter


def _noise(light: Array, is_seen: Mask) -> float:
    """Standard deviation from pixel to pixel: of differences between pixels three apart."""
    difference = (light[:, 3:] - light[:, :-3])[is_seen[:, 3:] & is_seen[:, :-3]]
    return float(max(_scatter(difference[:, None])[0] / math.sqrt(2.0), 1e-9))


def outline(screen_map: ScreenMap, each: int = 24) -> Array:
    """Pixels (m, 2) along the edge of the screen, closed, for drawing it."""
    ends = corners(screen_map.rectangle)
    sides = [np.linspace(ends[n], ends[(n + 1) % 4], each, endpoint=False) for n in range(4)]
    return screen_map.pixels(np.vstack([*sides, ends[:1]]))
