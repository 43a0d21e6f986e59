"""What a fit finds wrong: errors pulled too far, scatter beyond what was stated, a trend.

Where readings and what was stated of them contradict each other, a fit still gives numbers. They
are not to be offered as if they held.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import special

from glowtrace.errors import GlowtraceError
from glowtrace.measure.excess_scatter import ExcessScatter, excess_scatter
from glowtrace.measure.experiment import Experiment
from glowtrace.measure.fits.fitted import Fit, FitVerdict
from glowtrace.measure.fits.fitting import fit as fit_again
from glowtrace.measure.fits.fitting import slopes_at
from glowtrace.measure.fits.parameters import Parameter, index_of
from glowtrace.measure.fits.prior import are_known
from glowtrace.watching import Cancelled, GivenUpError

Array = NDArray[np.float64]

SPECIFIC_CHARGE: Final = "specific_charge"
_FAR: Final = 3.0
"""Stated standard uncertainties by which a common error may be pulled."""
_MOST_NAMED = 2
"""Rows far out that are told one by one: where more are, it is not they that are wrong."""
_SHIFTS: Final = (
    "contact_offset",
    "plate_offset",
    "current_offset",
    "grid_shift",
    "grid_tilt",
)
"""Constants that may be behind a trend: those that shift what is read or set."""


@dataclass(frozen=True)
class PulledError:
    """A common error that the fit moves further than what was stated of it allows."""

    name: str
    title: str
    unit: str
    stated: float
    stated_uncertainty: float
    fitted: float

    @property
    def distance(self) -> float:
        """How far it was moved, in the standard uncertainties that were stated."""
        return (self.fitted - self.stated) / self.stated_uncertainty


@dataclass(frozen=True, eq=False)
class Trend:
    """A constant that, left free, explains what otherwise counts as scatter."""

    name: str
    title: str
    unit: str
    fit: Fit
    """With the constant free."""

    @property
    def value(self) -> float:
        """Fitted, SI."""
        return self.fit.value(self.name)

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty, SI."""
        return self.fit.uncertainty(self.name)


@dataclass(frozen=True, eq=False)
class Findings:
    """What speaks against a fit, and what its readings say instead."""

    verdict: FitVerdict
    pulled: tuple[PulledError, ...] = ()
    """The furthest first."""
    rows_out: tuple[int, ...] = ()
    """Rows of the table, from 0, that lie further out than chance explains."""
    rows: int = 0
    """Rows that were fitted."""
    scatter: ExcessScatter | None = None
    trend: Trend | None = None

    @property
    def interval_holds(self) -> bool:
        """Whether the stated uncertainty of the result can be relied upon."""
        return self.verdict is not FitVerdict.POOR and not self.pulled

    @property
    def scatter_holds(self) -> bool:
        """Whether the result with the scatter that the readings show can be relied upon."""
        return (
            self.scatter is not None and self.trend is None and not pulled_errors(self.scatter.fit)
        )

    @property
    def rows_named(self) -> tuple[int, ...]:
        """Rows to look at again, if it is few that lie out."""
        return self.rows_out if len(self.rows_out) <= _MOST_NAMED else ()


def pulled_errors(fit: Fit) -> tuple[PulledError, ...]:
    """Give what was known beforehand and is fitted more than 3 standard uncertainties off.

    The furthest stands first.
    """
    known = are_known(fit.parameters)
    found = [
        PulledError(each.name, each.title, each.unit, each.value, each.spread, value)
        for each, value, is_known in zip(fit.parameters, fit.values.tolist(), known, strict=True)
        if is_known and abs(value - each.value) > _FAR * each.spread
    ]
    return tuple(sorted(found, key=lambda each: -abs(each.distance)))


def find(setup: Experiment, fit: Fit, *, cancelled: Cancelled | None = None) -> Findings:
    """Find what speaks against a fit; where something does, fits are made that look for why.

    Raises
    ------
    GivenUpError
        If it was cancelled.
    """
    pulled = pulled_errors(fit)
    tables = [each for each in setup.tables if each.usable]
    found = Findings(
        fit.verdict,
        pulled,
        tuple(
            readings.usable[n]
            for readings, done in zip(tables, fit.fitted, strict=True)
            for n in done.outliers
        ),
        sum(len(each.usable) for each in tables),
    )
    if found.interval_holds:
        return found
    scatter = None
    if found.verdict is FitVerdict.POOR and len(tables) == 1:
        scatter = excess_scatter(fit, tables[0].method, cancelled=cancelled)
    base = fit if scatter is None else scatter.fit
    return replace(found, scatter=scatter, trend=_trend(base, cancelled))


def _trend(fit: Fit, cancelled: Cancelled | None) -> Trend | None:
    """Find the constant that, left free, explains most of chi-square, if any does."""
    shifts = [each.name for each in fit.parameters if each.name in _SHIFTS and not each.is_free]
    if not shifts:
        return None
    freed = tuple(_freed(each) if each.name in shifts else each for each in fit.parameters)
    try:
        linear, slopes = slopes_at(
            fit.series, freed, fit.values, [each.adjusted for each in fit.fitted]
        )
    except GlowtraceError:
        return None
    away = np.concatenate([each.residuals(fit.values).ravel() for each in linear])
    flat = np.concatenate([each.reshape(-1, len(fit.values)) for each in slopes])
    gains = {name: _gain(fit, name, away, flat) for name in shifts}
    best = max(shifts, key=gains.__getitem__)
    if gains[best] < _FAR**2:
        return None
    parameters = tuple(_freed(each) if each.name == best else each for each in fit.parameters)
    try:
        done = fit_again(fit.series, parameters, near=fit, settled=1e-3, cancelled=cancelled)
    except GivenUpError:
        raise
    except GlowtraceError:
        return None
    one = fit.parameters[index_of(fit.parameters, best)]
    found = Trend(one.name, one.title, one.unit, done)
    return found if abs(found.value - one.value) > _FAR * found.uncertainty else None


def _freed(parameter: Parameter) -> Parameter:
    return replace(parameter, spread=math.inf)


def _gain(fit: Fit, name: str, away: Array, flat: Array) -> float:
    """By how much chi-square falls when a constant is left free; conditions taken as straight."""
    place = index_of(fit.parameters, name)
    known = are_known(fit.parameters)
    scales = np.array(
        [each.scale if each.spread else each.typical or 1.0 for each in fit.parameters]
    )
    pulls = (fit.values - np.array([each.value for each in fit.parameters])) / scales

    def least(is_free: bool) -> float:
        varied = [
            n
            for n, each in enumerate(fit.parameters)
            if not each.is_exact or (is_free and n == place)
        ]
        told = [n for n in varied if known[n] and not (is_free and n == place)]
        prior = np.eye(len(fit.parameters))[told][:, varied]
        design = np.concatenate([flat[:, varied] * scales[varied], prior])
        target = np.concatenate([away, pulls[told]])
        rest = target + design @ np.linalg.lstsq(design, -target, rcond=None)[0]
        return float(rest @ rest)

    return least(False) - least(True)


def interval_of(fit: Fit, name: str, level: float = 0.95) -> tuple[float, float]:
    """Interval of a parameter of a fit whose scatter was taken from the readings (Student's)."""
    factor = float(special.stdtrit(max(fit.degrees_of_freedom, 1), (1 + level) / 2))
    half = factor * fit.uncertainty(name)
    return fit.value(name) - half, fit.value(name) + half


def findings_data(findings: Findings, wanted: str) -> dict[str, Any]:
    """Give findings as plain data, SI; ``wanted`` names the parameter that was looked for."""

    def estimate(fit: Fit, holds: bool) -> dict[str, Any]:
        low, high = interval_of(fit, wanted) if holds else (None, None)
        return {
            "value": fit.value(wanted),
            "uncertainty": fit.uncertainty(wanted),
            "interval": [low, high] if holds else None,
            "chi_square": fit.chi_square,
            "degrees_of_freedom": fit.degrees_of_freedom,
        }

    scatter, trend = findings.scatter, findings.trend
    return {
        "interval_holds": findings.interval_holds,
        "pulled": [
            {
                "name": each.name,
                "title": each.title,
                "unit": each.unit,
                "stated": each.stated,
                "stated_uncertainty": each.stated_uncertainty,
                "fitted": each.fitted,
                "standard_uncertainties": each.distance,
            }
            for each in findings.pulled
        ],
        "scatter": scatter
        and {
            "column": scatter.column,
            "stated": scatter.stated,
            "shown": scatter.shown,
            "result": estimate(scatter.fit, findings.scatter_holds),
        },
        "trend": trend
        and {
            "name": trend.name,
            "title": trend.title,
            "unit": trend.unit,
            "value": trend.value,
            "uncertainty": trend.uncertainty,
            "result": estimate(trend.fit, False),
        },
        "outlying_rows": [row + 1 for row in findings.rows_out],
        "rows": findings.rows,
    }


def constants_data(fit: Fit) -> list[dict[str, Any]]:
    """Give every constant that was fitted: what was known beforehand, and what came out, SI.

    A value that was free has none beforehand; parts of one thing, such as a photograph's map, are
    left out.
    """
    return [
        {
            "name": each.name,
            "title": each.title,
            "unit": each.unit,
            "stated": None if each.is_free else each.value,
            "stated_uncertainty": None if each.is_free else each.spread,
            "fitted": fit.value(each.name),
            "uncertainty": fit.uncertainty(each.name),
        }
        for each in fit.parameters
        if not (each.is_exact or each.part_of)
    ]
