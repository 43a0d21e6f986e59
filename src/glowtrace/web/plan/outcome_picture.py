"""A map of what happens as an image: a colour and a hatching for each outcome, edges between."""

from __future__ import annotations

import io
from base64 import b64encode
from functools import cache
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
# What a name takes, as shares of a map as it stands on a wide page.
_LETTER, _MARGIN, _HALF_LINE = 0.0044, 0.018, 0.022


class Label(NamedTuple):
    """Where a region's name stands: shares of the map's sides, and whether all of it fits."""

    outcome: str
    across: float
    up: float
    is_whole: bool


def map_image(codes: Codes, labels: tuple[str, ...], side: int = SIDE) -> str:
    """Give a map as a PNG in a data address, `side` pixels or more, first row at the bottom."""
    scale = -(-side // max(codes.shape))
    large = np.kron(codes[::-1], np.ones((scale, scale), dtype=np.int8))
    places = (2 * large.astype(np.int16) + 3).astype(np.uint8)  # 0 edge, 1 empty, 2 unused
    for code in np.unique(codes[codes != NOT_YET]):
        hatch = FILLS[labels[code]].hatch[:1]
        if hatch:
            places += ((large == code) & _hatching(hatch, large.shape)).astype(np.uint8)
    places[_edges(large)] = 0
    image = Image.fromarray(places)
    image.putpalette(_palette(labels))
    written = io.BytesIO()
    image.save(written, "PNG")
    return f"data:image/png;base64,{b64encode(written.getvalue()).decode('ascii')}"


@cache
def swatch(outcome: str) -> str:
    """Give an outcome's fill as a small image in a data address."""
    return map_image(np.zeros((2, 2), dtype=np.int8), (outcome,), side=64)


def place_labels(codes: Codes, labels: tuple[str, ...]) -> tuple[Label, ...]:
    """Give for each outcome the place in its regions with the most room for its name."""
    rows, columns = codes.shape
    placed = []
    for code in np.unique(codes[codes != NOT_YET]):
        # A name is wider than high: shrink the map by that, and ask for a circle.
        squeeze = (_LETTER * len(labels[code]) + _MARGIN) / _HALF_LINE
        away = distance_transform_edt(
            np.pad(codes == code, 1), sampling=(1 / rows, 1 / columns / squeeze)
        )[1:-1, 1:-1]
        row, column = np.unravel_index(int(np.argmax(away)), away.shape)
        middle = (float((column + 0.5) / columns), float((row + 0.5) / rows))
        placed.append(Label(labels[code], *middle, bool(away[row, column] >= _HALF_LINE)))
    return tuple(placed)


def _palette(labels: tuple[str, ...]) -> list[int]:
    """Give the colours: edge, nothing yet, then each outcome's fill, plain and hatched."""
    colours = [_EDGE, _EMPTY, _EMPTY]
    for name in labels:
        red, green, blue = (255 * part for part in to_rgb(FILLS[name].colour))
        colours.append((round(red), round(green), round(blue)))
        colours.append((round(_DARKER * red), round(_DARKER * green), round(_DARKER * blue)))
    return [part for colour in colours for part in colour]


@cache
def _hatching(hatch: str, shape: tuple[int, ...]) -> Mask:
    """Give where a hatching, one of the letters that matplotlib has for it, darkens its fill."""
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
    return known[hatch]


def _edges(large: Codes) -> Mask:
    """Give the pixels between two regions."""
    found = np.zeros(large.shape, dtype=np.bool_)
    found[:, 1:] |= large[:, 1:] != large[:, :-1]
    found[1:] |= large[1:] != large[:-1]
    return found
