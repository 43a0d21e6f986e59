"""A map of what happens as an image: a colour and a hatching for each outcome, edges between."""

from __future__ import annotations

import io
from base64 import b64encode
from typing import Final, NamedTuple

import numpy as np
from matplotlib.colors import to_rgb
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import distance_transform_edt

from glowtrace.plan import NOT_YET
from glowtrace.report.outcome_fills import FILLS

Codes = NDArray[np.int8]
Mask = NDArray[np.bool_]

SIDE: Final = 800
"""Pixels across and up, at least."""
_DARKER: Final = 0.72
_EMPTY: Final = (20, 18, 15)
_EDGE: Final = (10, 9, 8)
_PERIOD, _STROKE = 16, 3


class Label(NamedTuple):
    """Where a region's name stands, and how much room it has: shares of the map's sides."""

    outcome: str
    across: float
    up: float
    room: float
    """Half the side of the largest square around that place that lies in the region."""


def map_image(codes: Codes, labels: tuple[str, ...]) -> str:
    """Give a map as a PNG in a data address, the first row at the bottom."""
    scale = -(-SIDE // max(codes.shape))
    large = np.kron(codes[::-1], np.ones((scale, scale), dtype=np.int8))
    palette = np.array([_EMPTY, *(_levels(FILLS[name].colour) for name in labels)], dtype=float)
    pixels = palette[large.astype(np.intp) + 1]
    for code in np.unique(codes[codes != NOT_YET]):
        hatched = (large == code) & _hatching(FILLS[labels[code]].hatch, large.shape)
        pixels[hatched] *= _DARKER
    pixels[_edges(large)] = _EDGE
    image = Image.fromarray(np.rint(pixels).astype(np.uint8)).quantize(64)
    written = io.BytesIO()
    image.save(written, "PNG", optimize=False)
    return f"data:image/png;base64,{b64encode(written.getvalue()).decode('ascii')}"


def swatch(outcome: str) -> str:
    """Give an outcome's fill as a small image in a data address."""
    return map_image(np.zeros((2, 2), dtype=np.int8), (outcome,))


def place_labels(codes: Codes, labels: tuple[str, ...]) -> tuple[Label, ...]:
    """Give for each outcome the place in its regions that is furthest from their edges."""
    rows, columns = codes.shape
    placed = []
    for code in np.unique(codes[codes != NOT_YET]):
        inside = np.pad(codes == code, 1)
        away = distance_transform_edt(inside, sampling=(1 / rows, 1 / columns))[1:-1, 1:-1]
        row, column = np.unravel_index(int(np.argmax(away)), away.shape)
        middle = (float((column + 0.5) / columns), float((row + 0.5) / rows))
        placed.append(Label(labels[code], *middle, float(away[row, column])))
    return tuple(placed)


def _levels(colour: str) -> tuple[float, float, float]:
    red, green, blue = to_rgb(colour)
    return 255 * red, 255 * green, 255 * blue


def _hatching(hatch: str, shape: tuple[int, ...]) -> Mask:
    """Give where a hatching darkens its fill."""
    y, x = np.indices(shape)
    rising, falling = (x + y) % _PERIOD < _STROKE, (x - y) % _PERIOD < _STROKE
    level, upright = y % _PERIOD < _STROKE, x % _PERIOD < _STROKE
    from_knot = np.hypot(x % _PERIOD - _PERIOD / 2, y % _PERIOD - _PERIOD / 2)
    known: dict[str, Mask] = {
        "/": rising,
        "\\": falling,
        "x": rising | falling,
        "-": level,
        "|": upright,
        "+": level | upright,
        ".": from_knot < _STROKE,
        "o": np.abs(from_knot - 4) < 1,
        "O": np.abs(from_knot - 6) < 1,
    }
    return known.get(hatch[:1], np.zeros(shape, dtype=np.bool_))


def _edges(large: Codes) -> Mask:
    """Give the pixels between two regions."""
    found = np.zeros(large.shape, dtype=np.bool_)
    found[:, 1:] |= large[:, 1:] != large[:, :-1]
    found[1:] |= large[1:] != large[:-1]
    return found
