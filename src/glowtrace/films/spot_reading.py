"""The glowing spot on a screen seen square on: its middle and its size.

What printed lines take of the light is put back; the brightest blob is sought; then a Gaussian of
its own shape weighs the light about it.

References
----------
G. M. Bernstein, M. Jarvis, "Shapes and shears, stars and smears", Astron. J. 123 (2002) 583-618
(moments with an adaptive Gaussian weight).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from glowtrace.films.layout import Layout
from glowtrace.films.square_on import Light

Array = NDArray[np.float64]

_BIN: Final = 3
"""Pixels each way that are taken together to seek a spot, and to measure a large one."""
_SIZES: Final = (1.0, 2.0, 4.0, 8.0, 16.0)
"""Standard deviations of the blobs that are sought, in bins."""
_CLEAR: Final = 12.0
"""How far the light of a blob must stand out of the noise: single ones of it reach 5 anywhere."""
_BRIGHT: Final = 0.25
"""And out of the light beside it, in parts of that: room light is uneven, too."""
_PRINTED: Final = 0.1
"""Half the width of what a printed line covers, with its blur, in pitches."""
_LEAST: Final = 0.3
"""Least part of the light that is put back: there is only noise below."""
_REACH: Final = 4.0
"""Half the side of what is looked at, in standard deviations of the spot."""
_ROUNDS: Final = 25
_STILL: Final = 0.003
"""Pixels by which the middle moves once it is found."""
_LARGEST: Final = 0.4
"""Standard deviation of the largest spot, in longer sides of the screen."""


@dataclass(frozen=True)
class ReadSpot:
    """A spot; lengths in m."""

    u: float
    v: float
    radius: float
    """Of an evenly lit disc with the same spread: root of twice the mean square distance."""


def read_spot(light: Light, layout: Layout) -> ReadSpot | None:
    """Read the brightest spot off the light of a screen, square on; None where none is clear."""
    m = layout.margin
    inner = light[m : m + layout.rows, m : m + layout.stations * layout.per_station]
    picture = inner.astype(np.float64)
    pitch, (u0, v0, _, _) = layout.grid.pitch / layout.pixel, layout.grid.rectangle
    for axis, (lines, low) in enumerate(((layout.grid.v, v0), (layout.grid.u, u0))):
        at = (np.array(lines) - low) / layout.pixel - 0.5
        picture /= np.expand_dims(_through_print(picture, at, pitch, axis), 1 - axis)
    coarse = _binned(picture)
    found = _brightest_blob(coarse)
    if found is None:
        return None
    (at, size), side = found, _BIN
    if size == _SIZES[0]:
        at, size, side, coarse = _BIN * at + (_BIN - 1) / 2, _BIN * size, 1, picture
    bell = _settled(coarse, at, size)
    if bell is None:
        return None
    middle, spread = bell
    pixel = side * layout.pixel
    v, u = (middle + 0.5) * pixel + (v0, u0)
    return ReadSpot(float(u), float(v), math.sqrt(2.0 * float(np.trace(spread))) * pixel)


def _through_print(picture: Array, lines: Array, pitch: float, axis: int) -> Array:
    """Give what part of the light comes through print (n,) along an axis: 1 between its lines."""
    profile = np.median(picture, axis=1 - axis)
    beside = ndimage.percentile_filter(profile, 70, size=max(3, round(0.6 * pitch)))
    part = profile / np.maximum(beside, 1e-6)
    off = np.abs(np.arange(len(profile))[:, None] - lines).min(axis=1)
    return np.where(off <= _PRINTED * pitch + 1.0, np.clip(part, _LEAST, 1.0), 1.0)


def _binned(picture: Array) -> Array:
    rows, columns = (count // _BIN for count in picture.shape)
    part = picture[: rows * _BIN, : columns * _BIN].reshape(rows, _BIN, columns, _BIN)
    return np.asarray(part.mean(axis=(1, 3)))


def _brightest_blob(picture: Array) -> tuple[Array, float] | None:
    """Give row and column (2,) and size of the blob that stands out most from even noise."""
    rough = picture[:, 1:] - picture[:, :-1]
    noise = max(1.4826 * float(np.median(np.abs(rough))) / math.sqrt(2.0), 1e-9)
    best: tuple[Array, float] | None = None
    most = _CLEAR
    for size in _SIZES:
        beside = ndimage.gaussian_filter(picture, 2.5 * size, mode="nearest")
        blob = ndimage.gaussian_filter(picture, size, mode="nearest") - beside
        at = np.unravel_index(int(blob.argmax()), blob.shape)
        # Noise is evened out over 4 pi size^2 pixels.
        clear = float(blob[at]) * math.sqrt(4.0 * math.pi) * size / noise
        if clear > most and blob[at] > _BRIGHT * max(float(beside[at]), 0.0):
            best, most = (np.array(at, dtype=float), size), clear
    return best


def _settled(picture: Array, middle: Array, size: float) -> tuple[Array, Array] | None:
    """Give middle (2,) and covariance (2, 2) in pixels of the Gaussian that fits the spot."""
    spread, largest = size**2 * np.eye(2), _LARGEST * max(picture.shape)
    for _ in range(_ROUNDS):
        sides = np.linalg.eigvalsh(spread)
        if not 0.1 < sides[0] <= sides[1] < largest**2:
            return None
        reach = _REACH * math.sqrt(max(float(sides[1]), 1.0))
        low = np.maximum(np.floor(middle - reach), 0).astype(int)
        high = np.minimum(np.ceil(middle + reach) + 1, picture.shape).astype(int)
        if (high - low < 4).any():
            return None
        moved = _weighed(picture[low[0] : high[0], low[1] : high[1]], middle - low, spread)
        if moved is None:
            return None
        step, spread = moved
        middle = middle + step
        if np.abs(step).max() < _STILL:
            break
    return middle, spread


def _weighed(seen: Array, middle: Array, spread: Array) -> tuple[Array, Array] | None:
    """Give the step to a better middle, and a better covariance; None where nothing glows."""
    rows, columns = (np.arange(count) - at for count, at in zip(seen.shape, middle, strict=True))
    inverse = np.linalg.inv(spread)
    far = (
        inverse[0, 0] * rows[:, None] ** 2
        + 2.0 * inverse[0, 1] * rows[:, None] * columns
        + inverse[1, 1] * columns**2
    )
    beside = far > 9.0
    base = float(np.median(seen[beside])) if beside.sum() > 8 else float(seen.min())
    weight = np.exp(-0.5 * far) * (seen - base)
    total = float(weight.sum())
    if not total > 0.0:
        return None
    down, along = weight.sum(axis=1) / total, weight.sum(axis=0) / total
    mixed = float(rows @ weight @ columns) / total
    seen_spread = np.array([[down @ rows**2, mixed], [mixed, along @ columns**2]])
    # A Gaussian seen through a weight of its own shape has half its spread, and moves half the way.
    return 2.0 * np.array([down @ rows, along @ columns]), 0.5 * spread + seen_spread
