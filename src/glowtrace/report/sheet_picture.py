"""A small picture of the screen for paper: black on white, lines only, sharp at any size.

It is drawn from the numbers of a `Picture`, not from its light: a band for a trace (two standard
deviations to each side of its middle), a dot for each landing on an end face. Pure black and one
light grey survive a copier and a printer without greys.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import MeanTrace, Picture
from glowtrace.bench.screen_plane import multiples

Array = NDArray[np.float64]

WIDEST, TALLEST = 60.0, 20.0
"""mm on paper."""
_SIGMAS = 2.0
_LEAST_SHARE = 0.04
"""Rows with less than this share of the fullest row are left out: their middle is noise."""
_MOST_DOTS = 300
_PALE = "#b8b8b8"
_GRID = "#d4d4d4"


@dataclass(frozen=True)
class SheetPicture:
    """An SVG drawing, its size on paper in mm, and the same in words.

    Attributes
    ----------
    svg
        The drawing.
    width_mm, height_mm
        Its size.
    words
        For readers who cannot see it.
    """

    svg: str
    width_mm: float
    height_mm: float
    words: str


def draw_sheet_picture(
    picture: Picture, bench: Bench, before: Picture | None = None, words: str = ""
) -> SheetPicture:
    """Draw the screen with grid, plates and trace; dashed, the trace of the step before.

    Parameters
    ----------
    picture
        What is to be seen.
    bench
        The bench that it was made with.
    before
        The picture of the step before; None leaves it out.
    words
        The picture in words.
    """
    paper = _Paper.of(picture)
    parts = [
        *_grid(paper, bench.screen.grid_pitch),
        *_plates(paper, bench),
        *(_before(paper, before) if before is not None else ()),
        *_light(paper, picture),
    ]
    width, height = _figure(paper.width), _figure(paper.height)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">'
        f'<clipPath id="screen"><rect width="{width}" height="{height}"/></clipPath>'
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>'
        f'<g clip-path="url(#screen)" fill="none" stroke-linejoin="round">{"".join(parts)}</g>'
        f'<rect width="{width}" height="{height}" fill="none" stroke="#000000" '
        'stroke-width="0.5"/></svg>'
    )
    return SheetPicture(svg, paper.width, paper.height, words)


@dataclass(frozen=True)
class _Paper:
    """From the screen's u and v in m to mm on paper, y downwards."""

    extent: tuple[float, float, float, float]
    scale: float
    is_mirrored: bool

    @classmethod
    def of(cls, picture: Picture) -> _Paper:
        left, right, low, high = picture.extent
        scale = min(WIDEST / (right - left), TALLEST / (high - low))
        return cls(picture.extent, scale, picture.plane.is_mirrored)

    @property
    def width(self) -> float:
        return self.scale * (self.extent[1] - self.extent[0])

    @property
    def height(self) -> float:
        return self.scale * (self.extent[3] - self.extent[2])

    def x(self, u: Array) -> Array:
        left, right, _, _ = self.extent
        away = right - u if self.is_mirrored else u - left
        return np.asarray(self.scale * away)

    def y(self, v: Array) -> Array:
        return np.asarray(self.scale * (self.extent[3] - v))


def _grid(paper: _Paper, pitch: float) -> Iterator[str]:
    """Draw the screen's own grid, the axis through its middle darker."""
    left, right, low, high = paper.extent
    for u in multiples(left, right, pitch):
        x = _figure(float(paper.x(np.array(u))))
        is_axis = paper.is_mirrored and abs(u) < pitch / 2
        yield _line(x, "0", x, _figure(paper.height), is_axis)
    for v in multiples(low, high, pitch):
        y = _figure(float(paper.y(np.array(v))))
        yield _line("0", y, _figure(paper.width), y, abs(v) < pitch / 2)


def _line(x1: str, y1: str, x2: str, y2: str, is_axis: bool) -> str:
    colour, width = ("#707070", "0.2") if is_axis else (_GRID, "0.15")
    ends = f'x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width}"/>'


def _plates(paper: _Paper, bench: Bench) -> Iterator[str]:
    """Draw the plates' edges as bars, where the screen shows the beam from the side."""
    for ends in bench.plane.plates(bench.plates):
        yield _path(paper, ends[:, 0], ends[:, 1], stroke=_PALE, width="1.4")


def _before(paper: _Paper, picture: Picture) -> Iterator[str]:
    trace = picture.mean_trace
    if len(trace.u) == 0:
        return
    if picture.plane.is_spot:
        radius = paper.scale * max(_SIGMAS * float(trace.width_v[0]), 0.4e-3)
        yield (
            f'<circle cx="{_figure(float(paper.x(trace.u)[0]))}" '
            f'cy="{_figure(float(paper.y(trace.v)[0]))}" r="{_figure(radius)}" '
            'stroke="#000000" stroke-width="0.25" stroke-dasharray="1 1"/>'
        )
        return
    for run in _runs(trace):
        dashes = ' stroke-dasharray="1.4 1.4"'
        yield _path(paper, trace.u[run], trace.v[run], width="0.3", more=dashes)


def _light(paper: _Paper, picture: Picture) -> Iterator[str]:
    if picture.plane.is_spot:
        yield from _dots(paper, picture.landings[:_MOST_DOTS])
        return
    trace = picture.mean_trace
    for run in _runs(trace):
        u, v, half = trace.u[run], trace.v[run], _SIGMAS * trace.width_v[run]
        across_u, across_v = _across(u, v)
        upper = (u + half * across_u, v + half * across_v)
        lower = (u - half * across_u, v - half * across_v)
        outline = (np.concatenate([a, b[::-1]]) for a, b in zip(upper, lower, strict=True))
        yield _path(paper, *outline, stroke="none", width="0", more=f' fill="{_PALE}"')
        yield _path(paper, u, v, width="0.7")


def _dots(paper: _Paper, landings: Array) -> Iterator[str]:
    for x, y in zip(paper.x(landings[:, 0]), paper.y(landings[:, 1]), strict=True):
        yield f'<circle cx="{_figure(float(x))}" cy="{_figure(float(y))}" r="0.22" fill="#000000"/>'


def _runs(trace: MeanTrace) -> Iterator[slice]:
    """Give the stretches of rows that hold enough of the light to be drawn."""
    if len(trace.weight) == 0:
        return
    enough = np.concatenate([[False], trace.weight >= _LEAST_SHARE * trace.weight.max(), [False]])
    edges = np.flatnonzero(enough[1:] != enough[:-1])
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        if stop - start > 1:
            yield slice(int(start), int(stop))


def _across(u: Array, v: Array) -> tuple[Array, Array]:
    """Give the unit vectors across a line."""
    du, dv = np.gradient(u), np.gradient(v)
    length = np.hypot(du, dv)
    length[length == 0.0] = 1.0
    return -dv / length, du / length


def _path(
    paper: _Paper, u: Array, v: Array, *, stroke: str = "#000000", width: str, more: str = ""
) -> str:
    points = " L".join(_points(paper.x(u), paper.y(v)))
    return f'<path d="M{points}" stroke="{stroke}" stroke-width="{width}"{more}/>'


def _points(x: Array, y: Array) -> Iterable[str]:
    return (f"{_figure(float(a))} {_figure(float(b))}" for a, b in zip(x, y, strict=True))


def _figure(value: float) -> str:
    """Write a length in mm to a hundredth, without a negative zero."""
    return f"{round(value, 2) + 0.0:g}"
