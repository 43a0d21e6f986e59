"""How much each pixel of a photograph looks like part of a thin, straight line of a printed grid.

Second derivatives across a line, averaged along it (a Gaussian that is longer than wide), at every
angle that a line may lean: what is averaged is linear in the light, so a line that drowns in the
noise of single pixels stands out. All angles are one multiplication each after one Fourier
transform.

References
----------
W. T. Freeman, E. H. Adelson, "The design and use of steerable filters", IEEE Trans. Pattern Anal.
Mach. Intell. 13 (1991) 891-906.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

Array = NDArray[np.float64]
Relief = NDArray[np.float32]

_WIDTH: Final = 1.5
"""Standard deviation of the filter across a line, in pixels."""
SCALES: Final = ((1, 8.0), (1, 20.0), (2, 20.0), (2, 40.0))
"""Blocks that are averaged first, and the standard deviation along a line in pixels of these: the
later ones find what drowns in noise with the earlier ones, but not narrow squares."""
_LEAN: Final = math.radians(40.0)
"""Furthest that a line may lean from upright or level."""
_ANGLES: Final = 21
_ANGLES_LONG: Final = 41
"""Angles for a filter longer than `_LONG`, which a line that leans a little otherwise misses."""
_LONG: Final = 20.0
_BRIGHT: Final = 4.0
"""Light that is bright, relative to the median of the photograph."""
_PADDING: Final = 32
"""Pixels by which the photograph is continued, so that its opposite edges do not meet."""
MARGIN: Final = 6
"""Pixels along the edge of the photograph in which no line is seen."""


@dataclass(frozen=True, eq=False)
class LineRelief:
    """Lines of a photograph, over noise: (rows, columns) each, below 0 where there is none."""

    upright: Relief
    level: Relief

    @property
    def crossing(self) -> Relief:
        """(rows, columns) the weaker of the two: what only a crossing has."""
        return np.minimum(self.upright, self.level)

    def at(self, pixels: Array) -> Relief:
        """Give the relief (n,) of crossings at pixels (n, 2)."""
        column, row = np.rint(pixels).astype(int).T
        found: Relief = self.crossing[row, column]
        return found


def line_reliefs(light: Array, length: float) -> tuple[LineRelief, LineRelief]:
    """Give the relief of dark lines and of bright ones.

    Parameters
    ----------
    light
        (rows, columns) of any unit.
    length
        Standard deviation of the filter along a line, in pixels; see `SCALES`.
    """
    # The root of light that is counted is as noisy in the dark surroundings as on the screen; far
    # above the usual light it becomes a logarithm, lest the trace outshine the print.
    usual = max(_BRIGHT * float(np.median(light)), 1e-6)
    root = np.arcsinh(np.sqrt(np.maximum(light, 0.0) / usual)).astype(np.float32)
    padded = np.pad(root, _PADDING, mode="reflect")
    shape = tuple(fft.next_fast_len(n, real=True) for n in padded.shape)
    spectrum = fft.rfft2(padded - padded.mean(), shape)
    down = 2 * math.pi * fft.fftfreq(shape[0])[:, None].astype(np.float32)
    along = 2 * math.pi * fft.rfftfreq(shape[1])[None, :].astype(np.float32)
    inner = tuple(slice(_PADDING, _PADDING + n) for n in light.shape)
    angles = np.linspace(-_LEAN, _LEAN, _ANGLES if length <= _LONG else _ANGLES_LONG)
    found = []
    for centre in (0.0, math.pi / 2):
        dark = bright = np.full(light.shape, -np.inf, dtype=np.float32)
        for angle in centre + angles:
            cosine, sine = np.float32(math.cos(angle)), np.float32(math.sin(angle))
            across, onward = cosine * along + sine * down, cosine * down - sine * along
            weight = across**2 * np.exp(-0.5 * ((_WIDTH * across) ** 2 + (length * onward) ** 2))
            bend = fft.irfft2(-weight * spectrum, shape)[inner]
            dark, bright = np.maximum(dark, bend), np.maximum(bright, -bend)
        found.append((_over_noise(dark), _over_noise(bright)))
    upright, level = found
    return LineRelief(upright[0], level[0]), LineRelief(upright[1], level[1])


def crossings_of(relief: LineRelief, least: float, most: int) -> Array:
    """Give where two lines may cross, strongest first: (n, 2) column and row, to part of a pixel.

    Parameters
    ----------
    relief
        See `line_reliefs`.
    least
        Relief that a crossing must have.
    most
        How many are given.
    """
    crossing = relief.crossing
    peak = (crossing == ndimage.maximum_filter(crossing, size=7)) & (crossing > least)
    peak[:MARGIN], peak[-MARGIN:], peak[:, :MARGIN], peak[:, -MARGIN:] = False, False, False, False
    row, column = np.nonzero(peak)
    first = np.argsort(-crossing[row, column], kind="stable")[:most]
    row, column = row[first], column[first]
    return np.column_stack(
        [
            column + _top(relief.upright[row, column - 1], relief.upright[row, column],
                          relief.upright[row, column + 1]),
            row + _top(relief.level[row - 1, column], relief.level[row, column],
                       relief.level[row + 1, column]),
        ]
    )  # fmt: skip


def _over_noise(relief: Relief) -> Relief:
    """Give relief in units of its scatter, 0 where it is usual."""
    usual = float(np.median(relief))
    scatter = 1.4826 * float(np.median(np.abs(relief - usual)))
    return (relief - np.float32(usual)) / np.float32(max(scatter, 1e-9))


def _top(before: Relief, at: Relief, after: Relief) -> Array:
    """Offset of the top of the parabola through three heights, within half a pixel."""
    bend = before - 2 * at + after
    safe = np.where(bend < 0, bend, -1.0)
    offset: Array = np.clip(0.5 * (before - after) / safe, -0.5, 0.5).astype(np.float64)
    return offset
