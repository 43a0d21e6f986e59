"""The line that a beam draws on a sheet: its course, its width, and whether it turns.

A polynomial through the landings gives the middle; what the landings stray from it, the width.
Many lines are read at once, so that a map of settings costs no more than one.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Picture

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

SEEN: Final = 1.0
"""Movement that an eye sees, in widths of the line (two standard deviations)."""
FEW: Final = 8
"""Landings below which there is no line."""
_DEGREE = 5
"""Of the polynomial through the landings: two periods of a trochoid are still followed."""
_PLACES = 41
_SHORT = 0.005
_GAPS = 2.5
"""A line reaches a place where its last landing is no further off than `_SHORT` m, or than this
many mean distances between landings: few electrons leave gaps."""


class Lines(NamedTuple):
    """The lines that p bundles drew on a sheet, as far as `judged_end`."""

    x: Array
    """(p, 41) m."""
    y: Array
    """(p, 41) m, the line's middle."""
    width: Array
    """(p,) m, two standard deviations."""
    depth: Array
    """(p,) m, signed: the farthest that the middle is from the axis before it comes back most, or
    at all where it does not come back."""
    comeback: Array
    """(p,) m by which it comes back towards the axis after that, 0 or more."""
    reach: Array
    """(p,) m, x of the last landing anywhere on the sheet."""
    edge: Array
    """(p,) m, the largest distance of the middle from the axis, up to its end on the sheet."""
    slack: Array
    """(p,) m by which a line may fall short of a place and still count as reaching it."""

    @property
    def strays(self) -> Array:
        """The largest distance (p,) from the axis, in widths of the line."""
        widths: Array = np.abs(self.y).max(axis=1) / np.maximum(self.width, 1e-6)
        return widths


def judged_end(bench: Bench) -> float:
    """Give the x in m up to which a line is judged: the end of the plates, within the sheet."""
    far = bench.plane.x_to
    return far if bench.plates is None else min(far, bench.plates.start + bench.plates.length)


def read_lines(bench: Bench, places: Array, landed: Mask, end: float) -> Lines:
    """Read lines off their landings by a polynomial through each.

    Parameters
    ----------
    bench
        One with a sheet.
    places
        (p, e, 2) m: u and v where electrons ended.
    landed
        (p, e): whether that was on the sheet; `FEW` or more of each line.
    end
        x in m up to which the course is judged.
    """
    assert bench.plane.is_line
    cosine = bench.plane.cosine
    x, v = cosine * places[:, :, 0], places[:, :, 1]
    low = np.where(landed, x, np.inf).min(axis=1)
    high = np.where(landed, x, -np.inf).max(axis=1)
    count = landed.sum(axis=1)
    span = np.maximum(high - low, 1e-9)[:, None]
    terms = legendre.legvander(np.clip(2 * (x - low[:, None]) / span - 1, -1, 1), _DEGREE)
    terms *= landed[:, :, None]
    normal = terms.transpose(0, 2, 1) @ terms + 1e-6 * np.eye(_DEGREE + 1)
    fit = np.linalg.solve(normal, terms.transpose(0, 2, 1) @ (v * landed)[:, :, None])
    off = ((v - (terms @ fit)[:, :, 0]) * landed) ** 2
    width = 2.0 * np.sqrt(off.sum(axis=1) / np.maximum(count - _DEGREE - 1, 1))
    last = np.maximum(np.minimum(high, end), low + 1e-9)
    along = low[:, None] + (last - low)[:, None] * np.linspace(0.0, 1.0, _PLACES)
    course = (legendre.legvander(2 * (along - low[:, None]) / span - 1, _DEGREE) @ fit)[:, :, 0]
    at_end = (legendre.legvander(np.ones((len(x), 1)), _DEGREE) @ fit)[:, 0, 0]
    edge = np.maximum(np.abs(course).max(axis=1), np.abs(at_end))
    slack = np.maximum(_SHORT, _GAPS * span[:, 0] / np.maximum(count, 1))
    return Lines(along, course, width, *_comeback(course), high, edge, slack)


def _comeback(y: Array) -> tuple[Array, Array]:
    """Give how far (p,) heights (p, k) go, signed, and by how much they come back from there."""
    rows = np.arange(len(y))
    depth, comeback = y[rows, np.abs(y).argmax(axis=1)], np.zeros(len(y))
    for side in (1.0, -1.0):
        height = side * y
        farthest = np.maximum.accumulate(height, axis=1)
        back = farthest - np.maximum(height, 0.0)  # it comes back as far as the axis, not further
        most = back.argmax(axis=1)
        is_more = back[rows, most] > comeback
        comeback = np.where(is_more, back[rows, most], comeback)
        depth = np.where(is_more, side * farthest[rows, most], depth)
    return depth, comeback


def is_straight(lines: Lines) -> Mask:
    """Tell which lines (p,) stray from the axis by no more than they are wide."""
    return lines.strays <= SEEN


def is_turn(lines: Lines) -> Mask:
    """Tell which lines (p,) leave the axis and come back, both by more than they are wide."""
    least = SEEN * lines.width
    turned: Mask = (np.abs(lines.depth) > least) & (lines.comeback > least)
    return turned


def picture_line(bench: Bench, picture: Picture, end: float) -> Lines | None:
    """Read the line off one picture, as far as x = ``end`` in m; None where there is none.

    In gas it is the middle of the glow, as far as it first passes there.
    """
    if bench.plane.glows:
        return _glow_line(picture, end)
    landings = picture.landings
    if len(landings) < FEW or not bench.plane.is_line:
        return None
    return read_lines(bench, landings[None], np.ones((1, len(landings)), dtype=np.bool_), end)


def _glow_line(picture: Picture, end: float) -> Lines | None:
    trace = picture.mean_trace
    beyond = np.flatnonzero(trace.u > end + 1e-9)
    count = int(beyond[0]) if len(beyond) else len(trace.u)
    if count < FEW:
        return None
    x, y = trace.u[None, :count], trace.v[None, :count]
    reach = np.array([trace.u.max()])
    edge = np.array([np.abs(trace.v).max()])
    width = np.array([2.0 * trace.width_v[:count].mean()])
    return Lines(x, y, width, *_comeback(y), reach, edge, np.array([_SHORT]))
