"""Charts of a fit for paper: readings with what the fit makes of them, and the residuals."""

from __future__ import annotations

import io
from typing import Any, Final

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from glowtrace.measure.fits.conditions import Series
from glowtrace.measure.fits.fitted import FittedSeries
from glowtrace.measure.methods import READ_OFF, Column
from glowtrace.measure.tables.readings import Table
from glowtrace.report.drawing import FILE_WORDS, own_settings
from glowtrace.units.dimensions import known_scales

Array = NDArray[np.float64]

_SIZE = (6.9, 2.6)  # inches
_TEXT = 8.0  # points
_LOOK: Final = {
    "svg.fonttype": "none",  # text stays text
    "font.size": _TEXT,
    "axes.linewidth": 0.6,
    "axes.formatter.useoffset": False,
}
USUAL: Final = 2.0
"""Residuals within this, in standard uncertainties, lie where 95 % of them should."""


def chart_svg(readings: Table, series: Series, fitted: FittedSeries) -> str:
    """Draw the readings of one table with the fit, and their residuals beside it, as SVG.

    Circles are readings with their standard uncertainties, crosses what the fit believes that was
    there. Residuals are in standard uncertainties; outliers have a ring.

    Parameters
    ----------
    readings, series, fitted
        A table, what the fit was given of it, and what it made of that.
    """
    written = io.StringIO()
    with own_settings(_LOOK):
        figure = Figure(figsize=_SIZE)
        left, right = figure.subplots(1, 2)
        plot_readings(left, readings, series, fitted)
        plot_residuals(right, readings, fitted)
        figure.tight_layout(pad=0.4, w_pad=2.0)
        figure.savefig(written, format="svg", metadata=FILE_WORDS["svg"])
    return written.getvalue()


def chart_words(readings: Table) -> str:
    """Say what a chart shows."""
    across, upright = chart_columns(readings)
    return f"{upright.symbol} over {across.symbol}: readings and fit; residuals beside it."


def chart_columns(readings: Table) -> tuple[Column, Column]:
    """Give the columns that lie across and upright.

    Points of a trace lie over x, other readings over the knob that varies most.
    """
    upright = readings.column(READ_OFF[readings.method])
    others = [each for each in readings.columns if each.is_needed and each.name != upright.name]

    def variation(column: Column) -> float:
        values = readings.values(column.name)
        size = float(np.max(np.abs(values), initial=0.0))
        spread = float(np.max(values, initial=-np.inf) - np.min(values, initial=np.inf))
        return spread / size if np.isfinite(size) and size > 0 else -1.0

    places = [each for each in others if each.name == "x"]
    return (places or [max(others, key=variation)])[0], upright


def plot_readings(axes: Any, readings: Table, series: Series, fitted: FittedSeries) -> None:
    """Draw the readings with what the fit makes of them into axes of your own."""
    across, upright = chart_columns(readings)
    places = [series.names.index(each.name) for each in (across, upright)]
    scales = [_in_unit(each) for each in (across, upright)]
    x, y = (series.readings[:, n] / scale for n, scale in zip(places, scales, strict=True))
    dx, dy = (series.uncertainties[:, n] / scale for n, scale in zip(places, scales, strict=True))
    fit_x, fit_y = (fitted.adjusted[:, n] / s for n, s in zip(places, scales, strict=True))
    axes.errorbar(
        x, y, xerr=dx, yerr=dy, linestyle="", marker="o", markersize=5, markerfacecolor="none",
        color="black", linewidth=0.8, label="read",
    )  # fmt: skip
    axes.plot(fit_x, fit_y, linestyle="", marker="x", markersize=4, color="black", label="fit")
    axes.locator_params(nbins=6)
    axes.set_xlabel(across.head)
    axes.set_ylabel(upright.head)
    axes.legend(frameon=False, loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=2)


def plot_residuals(axes: Any, readings: Table, fitted: FittedSeries) -> None:
    """Draw the residuals by row, in standard uncertainties, into axes of your own."""
    rows = np.array(readings.usable) + 1
    axes.axhspan(-USUAL, USUAL, color="#e4e4e4", linewidth=0)
    axes.axhline(0.0, color="black", linewidth=0.6)
    for condition, marker in zip(range(fitted.residuals.shape[1]), "o^sv", strict=False):
        there = fitted.is_present[:, condition]
        axes.plot(
            rows[there], fitted.residuals[there, condition], linestyle="", marker=marker,
            markersize=4, color="black",
        )  # fmt: skip
    for row in fitted.outliers:
        value = float(np.max(np.abs(fitted.residuals[row]), initial=0.0))
        sign = np.sign(fitted.residuals[row][np.argmax(np.abs(fitted.residuals[row]))])
        axes.plot(rows[row], sign * value, marker="o", markersize=10, markerfacecolor="none",
                  color="black", linestyle="")  # fmt: skip
    reach = max(3.0, 1.1 * float(np.max(np.abs(fitted.residuals), initial=0.0)))
    axes.set_ylim(-reach, reach)
    axes.set_xticks(rows[:: max(1, len(rows) // 10)])
    axes.set_xlabel("row")
    axes.set_ylabel("residual / standard uncertainty")


def _in_unit(column: Column) -> float:
    """Size in SI of the unit in which people read a column."""
    if column.si_unit == "1":
        return 1.0
    scale = known_scales()[column.unit]
    return float(scale.factor * 10.0**scale.power)
