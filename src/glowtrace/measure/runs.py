"""Runs and observers: what all readings of one run have in common, as a random effect.

Each run shifts what it reads by an amount of its own. How far runs lie apart is estimated from the
readings themselves: the spread with which the shifts have the chi-square of their freedom (Paule
and Mandel, as in `glowtrace.measure.excess_scatter`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, optimize

from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.parameters import Parameter
from glowtrace.measure.methods import READ_OFF
from glowtrace.measure.tables.readings import Table

Array = NDArray[np.float64]

WIDE = 0.3
"""Spread of the shifts of runs, as a part of the readings, that leaves them to the readings."""
_PREFIX = "run_"


def run_labels(readings: Table) -> tuple[str, ...]:
    """Give the names of the runs of a table, if its usable rows are of two or more."""
    if not readings.runs:
        return ()
    labels = tuple(dict.fromkeys(readings.runs[n] for n in readings.usable))
    return labels if len(labels) > 1 else ()


def wide_spread(readings: Table) -> float:
    """Give a spread of the shifts of runs that leaves them to the readings, SI; 0 without runs."""
    if not run_labels(readings):
        return 0.0
    values = readings.values(READ_OFF[readings.method])
    return WIDE * math.sqrt(float(np.nanmean(values**2)))


def run_parameters(readings: Table, number: int, spread: float) -> list[tuple[Array, Parameter]]:
    """Give the rows (r,) of each run as 0 and 1, with the parameter of its shift.

    ``number`` is that of the table, ``spread`` how far runs lie apart, SI.
    """
    labels = run_labels(readings)
    if not labels or not spread > 0:
        return []
    column = readings.column(READ_OFF[readings.method])
    runs = np.array([readings.runs[n] for n in readings.usable])
    # All together they have one less than there are runs.
    freedom = (len(labels) - 1) / len(labels)
    return [
        (
            (runs == label).astype(float),
            Parameter(
                f"{_PREFIX}{number}_{n + 1}", f"{column.symbol} of run {label or n + 1}",
                column.si_unit, 0.0, spread, part_of=f"differences between runs ({column.symbol})",
                kind="A", degrees_of_freedom=freedom,
            ),
        )
        for n, label in enumerate(labels)
    ]  # fmt: skip


def spread_of_runs(fit: Fit, number: int) -> float:
    """Estimate how far runs of a table lie apart, SI, from a fit that left their shifts open."""
    prefix = f"{_PREFIX}{number}_"
    places = [n for n, each in enumerate(fit.parameters) if each.name.startswith(prefix)]
    if len(places) < 2:
        return 0.0
    # What all have in common is no difference between runs.
    contrasts = linalg.null_space(np.ones((1, len(places)))).T
    apart = contrasts @ fit.values[places]
    covariance = contrasts @ fit.covariance[np.ix_(places, places)] @ contrasts.T
    freedom = len(places) - 1

    def off(spread: float) -> float:
        whole = covariance + spread**2 * np.eye(freedom)
        return float(apart @ np.linalg.solve(whole, apart)) - freedom

    largest = math.sqrt(float(apart @ apart)) + 1e-300
    if off(0.0) <= 0:
        return 0.0
    return float(optimize.brentq(off, 0.0, largest, xtol=1e-4 * largest))


def spreads_of_runs(fit: Fit, tables: Sequence[Table]) -> tuple[float, ...]:
    """Give `spread_of_runs` of every table."""
    return tuple(spread_of_runs(fit, n + 1) for n in range(len(tables)))
