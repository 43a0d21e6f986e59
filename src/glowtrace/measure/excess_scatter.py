"""The scatter that readings show beyond what was stated of them.

The extra variance of every reading of one column is such that chi-square equals its degrees of
freedom, as Paule and Mandel have it for means of laboratories.

References
----------
R. C. Paule, J. Mandel, "Consensus values and weighting factors", J. Res. Natl. Bur. Stand. 87
(1982) 377-385.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from glowtrace.errors import GlowtraceError
from glowtrace.measure.fits.conditions import Linearised, Series
from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.fitting import fit as fit_again
from glowtrace.measure.fits.fitting import slopes_at
from glowtrace.measure.fits.prior import whitening
from glowtrace.measure.methods import READ_OFF, Method
from glowtrace.watching import Cancelled, GivenUpError

Array = NDArray[np.float64]

_ROUNDS = 3
"""Straightened at the first fit, chi-square of the second is right to a few per cent, and so on."""
_CLOSE = 0.02
"""Change of the scatter that ends the search."""
_SMALLEST, _LARGEST = 1e-6, 3.0
"""Where it is looked for, as a part of the readings."""


@dataclass(frozen=True, eq=False)
class ExcessScatter:
    """The scatter of a column that the readings show, and the fit with it."""

    column: str
    stated: float
    """Root mean square of the stated standard uncertainties, SI."""
    shown: float
    """The same with the extra scatter, for which chi-square equals its degrees of freedom."""
    fit: Fit


def excess_scatter(
    fit: Fit, method: Method, *, cancelled: Cancelled | None = None
) -> ExcessScatter | None:
    """Find the scatter that readings of one method show; None if none explains chi-square.

    The fit with it is an ordinary one in which all rows count.

    Raises
    ------
    GivenUpError
        If it was cancelled.
    """
    column = READ_OFF[method]
    (series,) = fit.series
    place = series.names.index(column)
    typical = math.sqrt(float(np.nanmean(series.readings[:, place] ** 2)))
    steps = series.uncertainties if series.steps is None else series.steps
    steps = steps.copy()
    steps[:, place] = np.where(steps[:, place] > 0, steps[:, place], 1e-3 * typical)
    series = replace(series, steps=steps)
    extra, done = 0.0, fit
    try:
        for _ in range(_ROUNDS):
            straight = _with(series, place, extra or 1e-3 * typical)
            new = _extra(straight, done, series.uncertainties, place, typical)
            if new is None:
                return None
            is_close = abs(new - extra) <= _CLOSE * new
            extra = new
            if is_close:
                break
            done = fit_again(
                [_with(series, place, extra)], fit.parameters, correlation=fit.prior_correlation,
                near=done, settled=1e-3, cancelled=cancelled,
            )  # fmt: skip
    except GivenUpError:
        raise
    except GlowtraceError:
        return None
    stated = math.sqrt(float(np.mean(fit.series[0].uncertainties[:, place] ** 2)))
    return ExcessScatter(column, stated, math.hypot(stated, extra), done)


def _with(series: Series, place: int, extra: float) -> Series:
    sizes = series.uncertainties.copy()
    is_read = ~np.isnan(series.readings[:, place])
    sizes[is_read, place] = np.hypot(sizes[is_read, place], extra)
    return replace(series, uncertainties=sizes)


def _extra(series: Series, fit: Fit, stated: Array, place: int, typical: float) -> float | None:
    """Extra standard uncertainty of a column with which chi-square is what it should be.

    Chi-square is that of the conditions taken as straight at a fit; ``series`` may have any
    scatter, ``stated`` (r, k) is what was stated.
    """
    (linear,), (slopes,) = slopes_at(
        [series], fit.parameters, fit.values, [each.adjusted for each in fit.fitted]
    )
    back = np.linalg.inv(linear.whitening)
    plain = np.einsum("rcd,rd->rc", back, linear.residuals(fit.values))
    across = np.einsum("rcd,rdp->rcp", back, slopes)
    freedom = int(linear.is_present.sum()) - sum(each.is_free for each in fit.parameters)
    if freedom <= 0:
        return None
    varied = [n for n, each in enumerate(fit.parameters) if not each.is_exact]

    def off(logarithm: float) -> float:
        sizes = stated.copy()
        sizes[:, place] = np.hypot(sizes[:, place], math.exp(logarithm))
        return _chi_square(linear, plain, across, sizes, fit, varied) - freedom

    ends = math.log(_SMALLEST * typical), math.log(_LARGEST * typical)
    if not (off(ends[0]) > 0 > off(ends[1])):
        return None
    return math.exp(float(optimize.brentq(off, *ends, xtol=1e-3)))


def _chi_square(
    linear: Linearised,
    plain: Array,
    across: Array,
    sizes: Array,
    fit: Fit,
    varied: Sequence[int],
) -> float:
    """Smallest chi-square of straight conditions with standard uncertainties (r, k)."""
    covariance = np.einsum("rck,rk,rdk->rcd", linear.slopes, sizes**2, linear.slopes)
    count = np.arange(plain.shape[1])
    covariance[:, count, count] += np.where(
        linear.is_present, 1e-12 * covariance[:, count, count] + 1e-300, 1.0
    )
    white = np.linalg.inv(np.linalg.cholesky(covariance))
    scales = np.array([fit.parameters[n].scale for n in varied])
    rows = np.einsum("rcd,rdp->rcp", white, across).reshape(-1, across.shape[2])[:, varied]
    prior = whitening(fit.parameters, fit.prior_correlation)[:, varied]
    away = np.einsum("rcd,rd->rc", white, plain).ravel()
    design = np.concatenate([rows * scales, prior])
    target = np.concatenate([away, fit.prior_pull])
    found = np.linalg.lstsq(design, -target, rcond=None)[0]
    rest = target + design @ found
    return float(rest @ rest)
