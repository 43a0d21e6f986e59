"""What the printed lines along u take of the light, taken off again.

A printed line beside the glow, or across it, pulls the middle of the light away from itself, by up
to a tenth of a millimetre. All lines of a print are alike: how much they take at each distance from
their middle is the median over all lines and stations, of which the glow covers few.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.films.layout import Layout

Array = NDArray[np.float64]

_BIN: Final = 0.5
"""Width in pixels over which the shade is taken together."""
_FLANK: Final = 0.55
_FEWEST: Final = 30
"""Values of a bin."""
_SHADES: Final = 0.1, 4.0


def without_printed_lines(strips: Array, layout: Layout) -> Array:
    """Give the light of stations (s, rows) as it would be without the printed lines along u."""
    v0, reach, rows = layout.grid.rectangle[1], layout.reach, strips.shape[1]
    middles = [(v - v0) / layout.pixel - 0.5 for v in layout.grid.v]
    windows = [np.arange(np.ceil(m - reach), m + reach).astype(int) for m in middles]
    whole = [(m, w) for m, w in zip(middles, windows, strict=True) if w[0] >= 0 and w[-1] < rows]
    if not whole:
        return strips
    off = np.concatenate([window - middle for middle, window in whole])
    parts = np.concatenate(
        [_relative(strips[:, window], window - middle, reach) for middle, window in whole], axis=1
    )
    at, shade = _shade(off, parts, reach)
    if len(at) < 4:
        return strips
    clear = strips.copy()
    for middle, window in whole:
        clear[:, window] /= np.interp(window - middle, at, shade, left=1.0, right=1.0)
    return clear


def _relative(block: Array, off: Array, reach: int) -> Array:
    """Light (s, w) across a line, relative to that beside it; nan where there is none."""
    flank = np.abs(off) >= _FLANK * reach
    terms = np.column_stack([np.ones_like(off), off])
    level = block[:, flank] @ np.linalg.pinv(terms[flank]).T @ terms.T
    dark = level <= 1e-4
    return np.asarray(np.where(dark, np.nan, block / np.where(dark, 1.0, level)))


def _shade(off: Array, parts: Array, reach: int) -> tuple[Array, Array]:
    """Distances from the middle of a line, and what part of the light comes there."""
    at, shade = [], []
    for low in np.arange(-_FLANK * reach, _FLANK * reach, _BIN):
        mine = (off >= low) & (off < low + _BIN)
        values = parts[:, mine]
        values = values[np.isfinite(values)]
        if len(values) >= _FEWEST:
            at.append(float(off[mine].mean()))
            shade.append(float(np.clip(np.median(values), *_SHADES)))
    return np.array(at), np.array(shade)
