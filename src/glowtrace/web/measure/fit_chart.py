"""The fit as a drawing: readings with the fit above, residuals below."""

from __future__ import annotations

import math
from html import escape

import numpy as np
from numpy.typing import NDArray

from glowtrace.measure.methods import Column
from glowtrace.measure.tables.readings import Table
from glowtrace.report.measurement.chart import USUAL, chart_columns
from glowtrace.units import parse_quantity, shortest
from glowtrace.web.measure.fit_run import FitRun

Array = NDArray[np.float64]

WIDTH, HEIGHT = 480.0, 384.0
_LEFT, _RIGHT = 60.0, 10.0
_TOP, _UPPER, _GAP, _LOWER = 12.0, 206.0, 36.0, 76.0
_SAME = 0.01
"""Knobs that differ by less than this part count as the same."""


def fit_chart(run: FitRun) -> str:
    """Give the readings with the fit, and the residuals in standard uncertainties, as SVG.

    Rings with bars are readings, crosses what the fit believes that was there, joined by a line
    where all else was the same; outliers are filled. Two thirds of the residuals should lie within
    1, 95 % in the band of 2.
    """
    readings, fitted = run.table, run.fit.fitted[0]
    across, upright = chart_columns(readings)
    places = [fitted.names.index(column.name) for column in (across, upright)]
    scale = np.array([_shown(across), _shown(upright)])
    read = run.fit.series[0].readings[:, places] / scale
    believed = fitted.adjusted[:, places] / scale
    sizes = (
        np.stack([readings.uncertainties(each.name) for each in (across, upright)], axis=1) / scale
    )
    x_axis = _Axis.around(np.concatenate([read[:, 0], believed[:, 0]]), _LEFT, WIDTH - _RIGHT)
    y_axis = _Axis.around(
        np.concatenate([read[:, 1] + sizes[:, 1], read[:, 1] - sizes[:, 1], believed[:, 1]]),
        _TOP + _UPPER,
        _TOP,
    )
    residuals = np.sqrt((fitted.residuals**2).sum(axis=1)) * np.sign(fitted.residuals[:, 0])
    reach = max(3.0, 1.1 * float(np.abs(residuals).max(initial=0.0)))
    low = _TOP + _UPPER + _GAP
    r_axis = _Axis(-reach, reach, low + _LOWER, low)
    outliers = set(fitted.outliers)
    parts = [
        _grid(x_axis, y_axis, _TOP, _TOP + _UPPER),
        _fit_line(believed, x_axis, y_axis) if _is_one_curve(readings, across, upright) else "",
        *(_cross(x_axis.at(x), y_axis.at(y)) for x, y in believed),
        *(_reading(read[n], sizes[n], x_axis, y_axis, n in outliers) for n in range(len(read))),
        _residual_frame(r_axis, reach),
        *(
            _residual(x_axis.at(read[n, 0]), float(residuals[n]), r_axis, n in outliers)
            for n in range(len(read))
        ),
        _head(_LEFT, HEIGHT - 8, across.symbol, f"({across.unit}) as read"),
        _head(4, _TOP + 4, upright.symbol),
        _label(4, _TOP + 24, f"({upright.unit})", "start"),
        _label(4, low - 8, "reading − fit, in u", "start"),
    ]
    words = (
        f"{upright.symbol} over {across.symbol}: {len(read)} readings with the fit; below, how far "
        f"each lies off in standard uncertainties, at most {np.abs(residuals).max(initial=0):.1f}."
    )
    return (
        f'<svg class="fit-chart" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" '
        f'aria-label="{escape(words, quote=True)}">{"".join(parts)}</svg>'
    )


class _Axis:
    """Numbers along one direction of the drawing."""

    def __init__(self, low: float, high: float, start: float, end: float) -> None:
        self.low, self.high, self.start, self.end = low, high, start, end

    @classmethod
    def around(cls, values: Array, start: float, end: float) -> _Axis:
        """Give an axis with some room around values."""
        good = values[np.isfinite(values)]
        low, high = float(good.min()), float(good.max())
        room = 0.07 * (high - low) or 0.05 * abs(high) or 1.0
        return cls(low - room, high + room, start, end)

    def at(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    @property
    def ticks(self) -> list[float]:
        aim = (self.high - self.low) / 4
        decade = 10.0 ** math.floor(math.log10(aim))
        step = next(m * decade for m in (1, 2, 5, 10) if m * decade >= aim * 0.999)
        first = math.ceil(self.low / step)
        return [n * step for n in range(first, math.floor(self.high / step) + 1)]


def _shown(column: Column) -> float:
    """SI units in one unit of the column."""
    if column.si_unit == "1":
        return 1.0
    return parse_quantity(f"1 {column.unit}", column.si_unit)


def _grid(x_axis: _Axis, y_axis: _Axis, top: float, bottom: float) -> str:
    parts = []
    for value in x_axis.ticks:
        x = x_axis.at(value)
        parts.append(f'<path class="drawn-grid" d="M{x:.1f} {top:.1f}V{HEIGHT - 44:.1f}"/>')
        parts.append(_label(x, HEIGHT - 28, shortest(value), "middle"))
    for value in y_axis.ticks:
        y = y_axis.at(value)
        parts.append(f'<path class="drawn-grid" d="M{_LEFT:.1f} {y:.1f}H{WIDTH - _RIGHT:.1f}"/>')
        parts.append(_label(_LEFT - 8, y + 5, shortest(value), "end"))
    return "".join(parts)


def _fit_line(believed: Array, x_axis: _Axis, y_axis: _Axis) -> str:
    """Join what the fit believes, in order across; readings of two polarities stay apart."""
    parts = []
    for side in (believed[:, 1] >= 0, believed[:, 1] < 0):
        points = believed[side]
        points = points[np.argsort(points[:, 0], kind="stable")]
        if len(points) > 1:
            line = "L".join(f"{x_axis.at(x):.1f} {y_axis.at(y):.1f}" for x, y in points)
            parts.append(f'<path class="chart-fit" d="M{line}"/>')
    return "".join(parts)


def _is_one_curve(readings: Table, across: Column, upright: Column) -> bool:
    """Say whether the other knobs, whatever their polarity, were the same for all readings."""
    others = [each for each in readings.columns if each.is_needed and each not in (across, upright)]
    sizes = [np.abs(readings.values(each.name)) for each in others]
    return all(float(np.ptp(size)) <= _SAME * float(size.max()) for size in sizes)


def _cross(x: float, y: float) -> str:
    reach = 3.5
    return (
        f'<path class="chart-fit" d="M{x - reach:.1f} {y - reach:.1f}l{2 * reach} {2 * reach}'
        f'm0 {-2 * reach}l{-2 * reach} {2 * reach}"/>'
    )


def _reading(at: Array, size: Array, x_axis: _Axis, y_axis: _Axis, is_outlier: bool) -> str:
    x, y = x_axis.at(float(at[0])), y_axis.at(float(at[1]))
    left, right = x_axis.at(float(at[0] - size[0])), x_axis.at(float(at[0] + size[0]))
    low, high = y_axis.at(float(at[1] - size[1])), y_axis.at(float(at[1] + size[1]))
    css = "chart-reading is-outlier" if is_outlier else "chart-reading"
    return (
        f'<path class="chart-bar" d="M{left:.1f} {y:.1f}H{right:.1f}'
        f'M{x:.1f} {low:.1f}V{high:.1f}"/>'
        f'<circle class="{css}" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>'
    )


def _residual_frame(axis: _Axis, reach: float) -> str:
    top, bottom = axis.at(USUAL), axis.at(-USUAL)
    told = USUAL if reach < 3 * USUAL else float(f"{0.8 * reach:.1g}")
    width = WIDTH - _RIGHT - _LEFT
    return (
        f'<rect class="chart-band" x="{_LEFT}" y="{top:.1f}" width="{width}" '
        f'height="{bottom - top:.1f}"/>'
        f'<path class="chart-zero" d="M{_LEFT} {axis.at(0):.1f}H{WIDTH - _RIGHT}"/>'
        + "".join(
            _label(_LEFT - 8, axis.at(value) + 5, shortest(value), "end")
            for value in (-told, 0.0, told)
        )
    )


def _residual(x: float, value: float, axis: _Axis, is_outlier: bool) -> str:
    css = "chart-reading is-outlier" if is_outlier else "chart-reading"
    return (
        f'<path class="chart-bar" d="M{x:.1f} {axis.at(0):.1f}V{axis.at(value):.1f}"/>'
        f'<circle class="{css}" cx="{x:.1f}" cy="{axis.at(value):.1f}" r="4"/>'
    )


def _head(x: float, y: float, symbol: str, after: str = "") -> str:
    """Write a symbol with its index lowered, and what follows."""
    letter, _, index = symbol.partition("_")
    lowered = f'<tspan dy="4" font-size="11">{escape(index)}</tspan>' if index else ""
    raised = f'<tspan dy="{-4 if index else 0}"> {escape(after)}</tspan>' if after else ""
    return f'<text x="{x:.1f}" y="{y:.1f}">{escape(letter)}{lowered}{raised}</text>'


def _label(x: float, y: float, text: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(text)}</text>'
