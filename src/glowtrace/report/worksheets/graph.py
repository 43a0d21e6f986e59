"""A question to measure on a picture of the bench's own trace."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MultipleLocator
from numpy.typing import NDArray

from glowtrace.bench.model import LongCoil
from glowtrace.bench.path import Path
from glowtrace.bench.picture import Picture
from glowtrace.bench.ratings import knob_ranges
from glowtrace.demos.textbook import Textbook, textbook_trace
from glowtrace.explain.followed import usual_launch
from glowtrace.report.drawing import FILE_WORDS, own_settings
from glowtrace.report.worksheets.content import Graph, Question, Result
from glowtrace.report.worksheets.tube import Asked, farthest_height, height_at
from glowtrace.report.worksheets.words import differs, quantity
from glowtrace.units import fixed, significant

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Array = NDArray[np.float64]

_MM: Final = 1e3
_AMPERES: Final = 1e3  # to milliamperes
_SPOT: Final = 600  # electrons
_WIDTH, _TALLEST = 5.6, 3.1  # inches
_ELECTRONS: Final = 16_000
_SIGMAS: Final = 2.0
_FINE: Final = 5  # fine lines to a grid square
_FEW_SQUARES: Final = 4  # along an axis, of which every line has its number
_READ: Final = 0.25  # of the distance of fine lines: as far as an eye divides it
_CURRENTS: Final = 21  # of the curve of a focus
_TO_FARTHEST: Final = 8  # steps of the table of a circle, from the aperture to the farthest point


def reading(asked: Asked) -> Question | None:
    """Ask to read the trace on a picture of the real tube."""
    if asked.bench.plane.is_spot:
        return _focus(asked) if isinstance(asked.bench.coils, LongCoil) else None
    if asked.numbers.deflection is not None:
        return _height(asked)
    if asked.bench.plane.glows and asked.numbers.circle is not None:
        return _diameter(asked)
    return None


def _height(asked: Asked) -> Question | None:
    given, bench = asked.numbers.deflection, asked.bench
    if given is None:
        return None
    settings = asked.settings(
        given.accelerating, plate=given.plate, plate_reversed=given.is_reversed, is_sharp=False
    )
    picture = asked.prepared.picture(settings, electrons=_ELECTRONS)
    slant = bench.plane.cosine or 1.0
    x = math.floor(100 * (given.x - 0.005)) / 100
    found, by_school = height_at(asked.prepared, settings, x), textbook_trace(bench, settings)
    if found is None:
        return None
    ideal = float(np.interp(x / slant, by_school.u, by_school.v))
    pitch = bench.screen.grid_pitch
    way = "above" if found > 0 else "below"
    compared = "closer to the axis" if abs(found) < abs(ideal) else "farther from the axis"
    return Question(
        topic="Reading",
        text=(
            f"The picture shows the computed line of this tube (grey: its width) at "
            f"{quantity(given.accelerating, 'V', 2)} and {quantity(given.plate, 'V', 2)} on the "
            f"plates; dashed, the line of the textbook. Read the height of the middle of the line "
            f"at x = {quantity(x, 'm', 2)}, and how far the dashed line is from it there. Say how "
            "well you can read it.",
        ),
        room=2,
        steps=(
            _how_well(pitch),
            "How far the lines are apart is worked out from the unrounded heights; read off, it is "
            f"uncertain by {_fineness(math.sqrt(2.0) * pitch)} mm, as each of them is.",
            f"The tube’s line is {compared} than the textbook’s.",
        ),
        results=(
            Result("y", f"y = {fixed(_MM * found, 1)} ± {_fineness(pitch)} mm ({way} the "
                   "axis)", found, "m"),
            Result("dashed", f"dashed line: {fixed(_MM * ideal, 1)} mm, the lines are "
                   f"{fixed(_MM * abs(found - ideal), 1)} mm apart", abs(found - ideal), "m"),
        ),
        remark=(
            "Real plates of this size: their field is weaker towards the ends. Difference of the "
            f"heights: {differs(ideal, found, 0.002) or 'none'}."
        ),
        graph=_graph(asked, picture, by_school, slant),
    )  # fmt: skip


def _diameter(asked: Asked) -> Question | None:
    given = asked.numbers.circle
    if given is None:
        return None
    settings = asked.settings(given.accelerating, current=given.current, is_sharp=False)
    picture = asked.prepared.picture(settings, electrons=400)
    still = asked.settings(given.accelerating, current=given.current)
    highest = farthest_height(asked.prepared, still)
    if highest is None:
        return None
    pitch = asked.bench.screen.grid_pitch
    return Question(
        topic="Reading",
        text=(
            f"The picture shows the computed circle of this tube at "
            f"{quantity(given.accelerating, 'V', 2)} and {quantity(given.current, 'A', 2)}. Read "
            "its diameter, from the beam at the aperture (height 0) to its highest point, and say "
            "how well you can read it.",
        ),
        room=2,
        steps=(_how_well(pitch),),
        results=(
            Result("diameter", f"diameter = {fixed(_MM * highest, 1)} ± "
                   f"{_fineness(pitch)} mm", highest, "m"),
        ),
        graph=replace(
            _graph(asked, picture, None, 1.0),
            head=("point", "x / mm", "height / mm"),
            rows=_round(asked.prepared.fly(still, usual_launch(asked.bench))),
        ),
    )  # fmt: skip


def _round(path: Path) -> tuple[tuple[str, ...], ...]:
    """Give points of a circle in the order of flight, the farthest one among them."""
    half = path.turning_points()[0].at
    step = float(np.interp(half, np.arange(len(path.time)), path.time)) / _TO_FARTHEST
    count = min(2 * _TO_FARTHEST, math.floor(path.time[-1] / step + 1e-9))
    places = np.interp(step * np.arange(count + 1), path.time, np.arange(len(path.time)))
    places[_TO_FARTHEST] = half
    points = [_MM * path.point(float(at)) for at in places]
    return tuple((str(n), fixed(x, 1), fixed(y, 1)) for n, (x, y, _) in enumerate(points))


def _focus(asked: Asked) -> Question | None:
    """Ask to read the current of the focus on a curve of the spot's height."""
    given = asked.numbers.circle
    if given is None:
        return None
    top = knob_ranges(asked.bench)["coil_current"].high
    currents = np.linspace(0.35, 1.65, _CURRENTS) * given.current
    currents = currents[currents <= top]
    settings = asked.settings(given.accelerating, is_sharp=False)
    heights = np.array([
        2 * asked.prepared.picture(
            settings.model_copy(update={"coil_current": float(current)}), electrons=_SPOT
        ).mean_trace.width_v[0]
        for current in currents
    ])  # fmt: skip
    lowest = int(np.clip(heights.argmin(), 1, len(heights) - 2))
    a, b, _ = np.polyfit([-1.0, 0.0, 1.0], heights[lowest - 1 : lowest + 2] ** 2, 2)
    best = float(currents[lowest] - b / (2 * a) * (currents[1] - currents[0]))
    return Question(
        topic="Reading",
        text=(
            f"The curve shows how high the computed spot on the end face of this tube is, at "
            f"{quantity(given.accelerating, 'V', 2)}. Read the current at which the beam is "
            "focused, and say how well you can read it.",
        ),
        room=2,
        steps=("The beam is focused where the spot is smallest: at the curve’s lowest point.",),
        results=(
            Result("I", f"I = {_AMPERES * best:.0f} ± {0.03 * _AMPERES * best:.0f} mA", best, "A"),
        ),
        remark="Near its lowest point the curve is flat: that makes the reading uncertain.",
        graph=Graph(
            svg=_curve(_AMPERES * currents, _MM * heights),
            words="The height of the spot (two standard deviations) against the coil current.",
            head=("current / mA", "height of the spot / mm"),
            rows=tuple((f"{_AMPERES * current:.0f}", f"{_MM * height:.2f}")
                       for current, height in zip(currents, heights, strict=True)),
        ),
    )  # fmt: skip


def _curve(x: Array, y: Array) -> str:
    written = io.StringIO()
    with own_settings():
        figure = Figure(figsize=(_WIDTH + 0.7, 2.7))
        axes = figure.add_axes((0.085, 0.165, 0.9, 0.81))
        axes.plot(x, y, color="black", linewidth=1.2, marker="o", markersize=2.6)
        axes.set_ylim(0.0, 1.08 * float(y.max()))
        axes.minorticks_on()
        axes.grid(which="minor", color="#e3e3e3", linewidth=0.4)
        axes.grid(which="major", color="#9a9a9a", linewidth=0.6)
        axes.tick_params(which="both", labelsize=8, length=0, pad=4)
        axes.set_xlabel("coil current / mA", size=8.5)
        axes.set_ylabel("height of the spot / mm", size=8.5)
        figure.savefig(written, format="svg", metadata=dict(FILE_WORDS["svg"]))
    return written.getvalue()


def _how_well(pitch: float) -> str:
    return (
        f"The fine lines are {quantity(pitch / _FINE, 'm', 2)} apart, and an eye divides that into "
        f"four: about {_fineness(pitch)} mm."
    )


def _fineness(pitch: float) -> str:
    return significant(_MM * _READ * pitch / _FINE, 1)


def _graph(asked: Asked, picture: Picture, textbook: Textbook | None, slant: float) -> Graph:
    trace, pitch = picture.mean_trace, asked.bench.screen.grid_pitch
    first, last = slant * float(trace.u.min()), slant * float(trace.u.max())
    rows = []
    for n in range(math.ceil(first / pitch), math.floor(last / pitch) + 1):
        found = height_at(asked.prepared, picture.settings, n * pitch)
        if found is None:
            continue
        row = [fixed(_MM * n * pitch), fixed(_MM * found, 1)]
        if textbook is not None:
            row.append(fixed(_MM * float(np.interp(n * pitch / slant, textbook.u, textbook.v)), 1))
        rows.append(tuple(row))
    head = ["x / mm", "height / mm"] + ["dashed / mm"] * (textbook is not None)
    return Graph(
        svg=_drawing(asked, picture, textbook, slant),
        words="The line on the gridded screen, grey for its width"
        + ("; the textbook’s line dashed." if textbook is not None else "."),
        head=tuple(head),
        rows=tuple(rows),
    )


def _drawing(asked: Asked, picture: Picture, textbook: Textbook | None, slant: float) -> str:
    u0, u1, _, _ = picture.extent
    low, high = _heights(picture, textbook)
    left, right = slant * u0, slant * u1
    height = min(_TALLEST, _WIDTH * (high - low) / (right - left))
    width = height * (right - left) / (high - low)
    page = (width + 0.75, height + 0.6)
    written = io.StringIO()
    with own_settings():
        figure = Figure(figsize=page)
        place = (0.62 / page[0], 0.48 / page[1], width / page[0], height / page[1])
        axes = figure.add_axes(place)
        _draw(axes, asked, picture, textbook, slant, (_MM * low, _MM * high))
        axes.set_xlim(_MM * left, _MM * right)
        axes.set_ylim(_MM * low, _MM * high)
        figure.savefig(written, format="svg", metadata=dict(FILE_WORDS["svg"]))
    return written.getvalue()


def _heights(picture: Picture, textbook: Textbook | None) -> tuple[float, float]:
    """Give the heights in m that are drawn: half a square more than the lines need, at least."""
    _, _, low, high = picture.extent
    trace, pitch = picture.mean_trace, picture.plane.grid_pitch
    seen = [trace.v - _SIGMAS * trace.width_v, trace.v + _SIGMAS * trace.width_v, np.zeros(1)]
    if textbook is not None:
        seen.append(textbook.v)
    every = np.concatenate(seen)
    half = pitch / 2
    below, above = (
        math.floor(every.min() / half - 1) * half,
        math.ceil(every.max() / half + 1) * half,
    )
    return max(low, below), min(high, above)


def _draw(
    axes: Axes, asked: Asked, picture: Picture, textbook: Textbook | None, slant: float,
    heights: tuple[float, float],
) -> None:  # fmt: skip
    pitch, trace = _MM * asked.bench.screen.grid_pitch, picture.mean_trace
    for axis, name in ((axes.xaxis, "x / mm"), (axes.yaxis, "height / mm")):
        axis.set_major_locator(MultipleLocator(pitch))
        axis.set_minor_locator(MultipleLocator(pitch / _FINE))
        few = axis is axes.yaxis and heights[1] - heights[0] < _FEW_SQUARES * pitch
        axis.set_major_formatter(FuncFormatter(partial(_number, pitch if few else 2 * pitch)))
        axis.set_label_text(name, size=8.5)
    axes.grid(which="minor", color="#e3e3e3", linewidth=0.4)
    axes.grid(which="major", color="#9a9a9a", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(which="both", labelsize=8, length=0, pad=4)
    axes.axhline(0.0, color="#606060", linewidth=0.9)
    enough = trace.weight >= 0.04 * trace.weight.max(initial=0.0)
    x, y = _MM * slant * trace.u[enough], _MM * trace.v[enough]
    half = _MM * _SIGMAS * trace.width_v[enough]
    du, dv = np.gradient(x), np.gradient(y)
    length = np.maximum(np.hypot(du, dv), 1e-12)
    across = np.stack([-dv / length, du / length])
    upper, lower = np.stack([x, y]) + half * across, np.stack([x, y]) - half * across
    axes.fill(
        np.concatenate([upper[0], lower[0][::-1]]), np.concatenate([upper[1], lower[1][::-1]]),
        color="#b8b8b8", linewidth=0, alpha=0.8,
    )  # fmt: skip
    axes.plot(x, y, color="black", linewidth=1.1)
    if textbook is not None:
        axes.plot(_MM * slant * textbook.u, _MM * textbook.v, color="black", linewidth=0.9,
                  linestyle=(0, (6, 4)))  # fmt: skip


def _number(every: float, value: float, _place: int) -> str:
    """Number some lines of the grid, so that numbers do not crowd."""
    return fixed(value) if abs(value / every - round(value / every)) < 0.1 else ""
