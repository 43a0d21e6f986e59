"""A finished fit: parameters, covariance, residuals, chi-square and what it says."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy import special

from glowtrace.measure.fits.conditions import Series
from glowtrace.measure.fits.parameters import Parameter, index_of
from glowtrace.measure.fits.robust import Robust

Array = NDArray[np.float64]

_MOST_OUT = 1 / 3
"""Part of the rows that can be outliers; where more lie out, it is not they that are wrong."""


class FitVerdict(StrEnum):
    """What chi-square says about model and uncertainties."""

    GOOD = "good"
    DOUBTFUL = "doubtful"
    """A larger one has a chance below 5 %."""
    POOR = "poor"
    """A larger one has a chance below 1 %."""
    TOO_GOOD = "too good"
    """A smaller one has a chance below 1 %."""
    UNCHECKED = "no check"
    """As many unknowns as readings."""


@dataclass(frozen=True, eq=False)
class FittedSeries:
    """What the fit makes of a series; index letters as in `glowtrace.measure.fits.conditions`."""

    label: str
    names: tuple[str, ...]
    residuals: Array
    """(r, c) whitened: standard normal if model and uncertainties are right; 0: no condition."""
    is_present: NDArray[np.bool_]
    """(r, c) where there is a condition."""
    weights: Array
    """(r,) from robust reweighting; 1 in an ordinary fit."""
    outliers: tuple[int, ...]
    """Rows that lie further out than chance explains in one of 20 tables of this size."""
    adjusted: Array
    """(r, k) the readings as the fit believes they truly are."""
    jacobian: Array
    """(r, c, p) change of the whitened residuals with the parameters, per SI unit."""
    noise: Array
    """(r, c, k) whitened residual that one standard uncertainty of each reading makes."""


@dataclass(frozen=True, eq=False)
class Fit:
    """A finished fit."""

    series: tuple[Series, ...]
    parameters: tuple[Parameter, ...]
    robust: Robust
    prior_correlation: Array
    """(p, p) of what was known beforehand."""
    values: Array
    """(p,) fitted; exact parameters as they were given."""
    covariance: Array
    """(p, p) in the linear approximation; zero for exact parameters."""
    fitted: tuple[FittedSeries, ...]
    prior_pull: Array
    """(p,) how far each value lies from what was known beforehand, in its spread; of correlated
    ones, what is left of that once those before it are taken into account."""
    variance_factors: tuple[float, float]
    """Mean slope and mean square of the reweighted residual; 1 and 1 in an ordinary fit."""
    is_settled: bool
    """Whether the rounds of the fit came to an end by themselves."""

    @property
    def chi_square(self) -> float:
        """Sum of the squared residuals of rows and prior knowledge.

        The outliers of a robust fit are left out, if they are no more than a third of the rows.
        """
        rows = sum(float((each.residuals[self._kept(each)] ** 2).sum()) for each in self.fitted)
        return rows + float(self.prior_pull @ self.prior_pull)

    @property
    def degrees_of_freedom(self) -> int:
        """Conditions on the rows counted in chi-square, less the free parameters."""
        conditions = sum(int(each.is_present[self._kept(each)].sum()) for each in self.fitted)
        return conditions - sum(each.is_free for each in self.parameters)

    def _kept(self, fitted: FittedSeries) -> NDArray[np.bool_]:
        rows = sum(len(each.residuals) for each in self.fitted)
        kept = np.ones(len(fitted.residuals), dtype=bool)
        if self.robust != "none" and self.rows_out <= _MOST_OUT * rows:
            kept[list(fitted.outliers)] = False
        return kept

    @property
    def rows_out(self) -> int:
        """How many rows lie further out than chance explains."""
        return sum(len(each.outliers) for each in self.fitted)

    @property
    def p_value(self) -> float:
        """Chance of a larger chi-square if model and uncertainties are right; NaN without check."""
        freedom = self.degrees_of_freedom
        return float(special.chdtrc(freedom, self.chi_square)) if freedom > 0 else math.nan

    @property
    def verdict(self) -> FitVerdict:
        """What chi-square says about model and uncertainties."""
        p = self.p_value
        if math.isnan(p):
            return FitVerdict.UNCHECKED
        if p > 0.99:
            return FitVerdict.TOO_GOOD
        if p < 0.01:
            return FitVerdict.POOR
        return FitVerdict.DOUBTFUL if p < 0.05 else FitVerdict.GOOD

    @property
    def birge_ratio(self) -> float:
        """Square root of the reduced chi-square: by how much the scatter exceeds what is stated."""
        freedom = self.degrees_of_freedom
        return math.sqrt(self.chi_square / freedom) if freedom > 0 else math.nan

    def value(self, name: str) -> float:
        """Give the fitted value of a parameter."""
        return float(self.values[index_of(self.parameters, name)])

    def uncertainty(self, name: str) -> float:
        """Give the standard uncertainty of a parameter in the linear approximation."""
        position = index_of(self.parameters, name)
        return math.sqrt(self.covariance[position, position])

    @property
    def correlation(self) -> Array:
        """Correlation coefficients (p, p); zero for exact parameters."""
        size = np.sqrt(np.diag(self.covariance))
        both = np.outer(size, size)
        ratio: Array = np.divide(self.covariance, both, out=np.zeros_like(both), where=both > 0)
        return ratio
