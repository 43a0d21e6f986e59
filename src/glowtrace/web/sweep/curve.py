"""A sweep as a curve on the page: axes, band, textbook's line, and where the knobs stand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from matplotlib.ticker import MaxNLocator
from nicegui import ui
from numpy.typing import NDArray

from glowtrace.report.sweep_figure import column_label, scaled, shown_reading
from glowtrace.sweeps import Sweep
from glowtrace.units import significant
from glowtrace.web.controls import box, put_prop, words
from glowtrace.web.plot_area import PlotArea

Array = NDArray[np.float64]

_TICKS: Final = MaxNLocator(5, steps=[1, 2, 2.5, 5, 10])


@dataclass(frozen=True)
class Drawn:
    """What is drawn of a sweep, in the units that people read; gaps are NaN."""

    across: str
    up: str
    x: Array
    lines: dict[str, Array]
    """(n,) each: "read", and where there are such "textbook", "low" and "high"."""
    reach: tuple[float, float]
    """Of the upright axis."""

    def share(self, x: float, y: float) -> tuple[float, float]:
        """Give the place of a point as shares of width and height."""
        return (
            (x - self.x[0]) / (self.x[-1] - self.x[0]),
            (y - self.reach[0]) / (self.reach[1] - self.reach[0]),
        )

    def at(self, x: float) -> dict[str, float]:
        """Give what the lines have at a place, by straight lines between points."""
        return {name: float(np.interp(x, self.x, line)) for name, line in self.lines.items()}

    def told(self, x: float) -> str:
        """Say what is read at a place."""
        here, unit = self.at(x), f" {scaled(self.up)[1]}".rstrip()
        word, own, _ = scaled(self.across)
        told = f"{word} {significant(x, 3)} {own}".rstrip() + ": "
        if not np.isfinite(here["read"]):
            return f"{told}nothing to read"
        told += f"{scaled(self.up)[0]} {significant(here['read'], 3)}{unit}"
        if np.isfinite(here.get("low", np.nan)):
            ends = f"{significant(here['low'], 3)} to {significant(here['high'], 3)}"
            told += f" (95 %: {ends})"
        if np.isfinite(here.get("textbook", np.nan)):
            told += f", textbook {significant(here['textbook'], 3)}{unit}"
        return told


def drawn_of(made: Sweep, read: str) -> Drawn | None:
    """Give what is drawn of a sweep; None where there is nothing to read in all of it."""
    shown, along = shown_reading(made, read), made.axes[0]
    allowed = made["is_within_ratings"]
    factor = scaled(shown.read)[2]
    names = {"read": shown.read, "textbook": shown.textbook, "low": shown.low, "high": shown.high}
    lines = {
        name: np.where(allowed, factor * made[column], np.nan)
        for name, column in names.items()
        if column
    }
    known = np.concatenate(list(lines.values()))
    known = known[np.isfinite(known)]
    if not np.isfinite(lines["read"]).any() or len(along.values) < 2:
        return None
    low, high = float(known.min()), float(known.max())
    room = 0.06 * (high - low) or 0.05 * abs(high) or 1.0
    reach = (low - room, high + room)
    return Drawn(along.column, shown.read, scaled(along.column)[2] * along.values, lines, reach)


class Curve:
    """The drawing with its axes. Building it puts it on the page.

    Parameters
    ----------
    on_point, on_choose
        Called with the place along the axis, in the units of `Drawn`, that is pointed at, or that
        is to be turned to.
    """

    def __init__(
        self, on_point: Callable[[float], None], on_choose: Callable[[float], None]
    ) -> None:
        self._drawn: Drawn | None = None
        with box("curve") as self._all:
            self._side = box("axis is-up").props('aria-hidden="true"')
            with PlotArea(
                lambda place: self._tell(place[0], on_point),
                lambda place: self._tell(place[0], on_choose),
            ) as self._area:
                self._lines = ui.html("", sanitize=False).classes("curve-lines")
                self._mark = box("curve-mark", "span").props('aria-hidden="true"')
                self._dot = box("curve-dot", "span").props('aria-hidden="true"')
            self._below = box("axis is-across").props('aria-hidden="true"')
        self._all.set_visibility(False)

    def show(self, drawn: Drawn | None, *, is_old: bool = False) -> None:
        """Draw a sweep, dimly where it is out of date; None leaves nothing."""
        self._drawn = drawn
        self._all.set_visibility(drawn is not None)
        self._all.classes(**{"add" if is_old else "remove": "is-old"})
        if drawn is None:
            return
        self._area.props["label"] = (
            f"{column_label(drawn.up)} over {column_label(drawn.across)}. "
            "Arrow keys move the cursor, Enter turns the knob there."
        )
        self._lines.content = _svg(drawn)
        _put_axis(self._below, drawn, _ticks(float(drawn.x[0]), float(drawn.x[-1])), "left")
        _put_axis(self._side, drawn, _ticks(*drawn.reach), "bottom")

    def mark(self, x: float) -> None:
        """Mark the present setting, in the units of `Drawn`."""
        if self._drawn is None:
            return
        drawn, y = self._drawn, self._drawn.at(x)["read"]
        across, up = drawn.share(x, y)
        is_inside = 0.0 <= across <= 1.0
        self._mark.set_visibility(is_inside)
        self._dot.set_visibility(bool(is_inside and np.isfinite(up)))
        if is_inside:
            self._mark.style(f"left:{100 * across:.2f}%")
            put_prop(self._area, "startX", round(float(across), 4))
        if is_inside and np.isfinite(up):
            self._dot.style(f"left:{100 * across:.2f}%;bottom:{100 * up:.2f}%")

    def _tell(self, share: float, told: Callable[[float], None]) -> None:
        if self._drawn is not None:
            first, last = float(self._drawn.x[0]), float(self._drawn.x[-1])
            told(first + share * (last - first))


def _put_axis(axis: ui.element, drawn: Drawn, ticks: Array, side: str) -> None:
    """Put round numbers along a side of the drawing, and what it shows."""
    is_across = side == "left"
    axis.clear()
    with axis:
        for tick in ticks.tolist():
            place = drawn.share(tick, tick)[0 if is_across else 1]
            words(_number(tick), css="tick").style(f"{side}:{100 * place:.2f}%")
        words(column_label(drawn.across if is_across else drawn.up), css="axis-name capital")


def _ticks(low: float, high: float) -> Array:
    """Give round numbers from one to the other, and none beyond."""
    ticks = np.asarray(_TICKS.tick_values(low, high), dtype=np.float64)
    slack = 1e-9 * (high - low)
    return ticks[(ticks >= low - slack) & (ticks <= high + slack)]


def _number(value: float) -> str:
    return f"{value:g}".replace("-", "−")


def _svg(drawn: Drawn) -> str:
    levels = "".join(
        f"M0 {100 - 100 * drawn.share(drawn.x[0], tick)[1]:.2f}H100"
        for tick in _ticks(*drawn.reach)
    )
    parts = [f'<path class="curve-grid" d="{levels}"/>']
    lines = drawn.lines
    if "low" in lines:
        known = np.isfinite(lines["low"]) & np.isfinite(lines["high"])
        for run in _runs(known):
            there = _points(drawn, lines["high"], run)
            back = _points(drawn, lines["low"], run)[::-1]
            parts.append(f'<path class="curve-band" d="M{"L".join([*there, *back])}Z"/>')
    for name in ("textbook", "read"):
        if name in lines:
            path = "".join(
                f"M{'L'.join(_points(drawn, lines[name], run))}"
                for run in _runs(np.isfinite(lines[name]))
            )
            parts.append(f'<path class="curve-{name}" d="{path}"/>')
    return (
        '<svg viewBox="0 0 100 100" preserveAspectRatio="none" aria-hidden="true">'
        f"{''.join(parts)}</svg>"
    )


def _runs(known: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Part the places that are known into stretches without a gap."""
    places = np.flatnonzero(known)
    if not len(places):
        return []
    return np.split(places, np.flatnonzero(np.diff(places) > 1) + 1)


def _points(drawn: Drawn, line: Array, run: NDArray[np.intp]) -> list[str]:
    places = (drawn.share(float(drawn.x[n]), float(line[n])) for n in run.tolist())
    return [f"{100 * across:.2f} {100 - 100 * up:.2f}" for across, up in places]
