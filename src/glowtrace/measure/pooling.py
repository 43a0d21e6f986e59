"""Results of several groups pooled to one, with the scatter between the groups.

Groups read differently, beyond what each states of itself. The random-effects mean adds a variance
between groups, tau^2, to that of each, estimated by moments; the Birge ratio tells the same scatter
by one factor on the uncertainty of the plain weighted mean.

Index letter: k groups.

References
----------
R. DerSimonian, N. Laird, "Meta-analysis in clinical trials", Control. Clin. Trials 7 (1986)
177-188. R. T. Birge, "The calculation of errors by the method of least squares", Phys. Rev. 40
(1932) 207-227. D. A. Follmann, M. A. Proschan, "Valid inference in random effects meta-analysis",
Biometrics 55 (1999) 732-737: Student's distribution with k - 1 degrees of freedom. The estimate of
tau^2 was read in two open packages that cite the first; the rest is from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from glowtrace.errors import GlowtraceError, Problem

Array = NDArray[np.float64]
LEVEL = 0.95
_CHANCE = 0.05
"""Of naming a group that lies out although none does, over all groups together."""


@dataclass(frozen=True, eq=False)
class Pooled:
    """One value from those of k groups, in their unit.

    Attributes
    ----------
    values, uncertainties
        (k,) as they were given.
    value, uncertainty
        The random-effects mean and its standard uncertainty.
    between
        tau: the standard deviation between groups beyond what they state.
    interval
        At `LEVEL`, with Student's factor for k - 1 degrees of freedom.
    fixed, fixed_uncertainty
        The mean weighted with what the groups state alone.
    chi_square
        Of the groups about it; Cochran's Q.
    lying_out
        (k,) True where a group lies further from the mean of the others than chance explains.
    """

    values: Array
    uncertainties: Array
    value: float
    uncertainty: float
    between: float
    interval: tuple[float, float]
    fixed: float
    fixed_uncertainty: float
    chi_square: float
    lying_out: NDArray[np.bool_]

    @property
    def groups(self) -> int:
        """How many groups."""
        return len(self.values)

    @property
    def birge_ratio(self) -> float:
        """Root of chi-square over its degrees of freedom: 1 where groups scatter as stated."""
        return math.sqrt(self.chi_square / (self.groups - 1))

    @property
    def birge_uncertainty(self) -> float:
        """Uncertainty of the plain weighted mean, times the Birge ratio where that exceeds 1."""
        return self.fixed_uncertainty * max(1.0, self.birge_ratio)


def pool(values: Sequence[float], uncertainties: Sequence[float]) -> Pooled:
    """Pool the results of groups.

    When it holds: the groups are independent of each other. What all share, such as one meter, is
    not in it and does not shrink with their number.

    Parameters
    ----------
    values, uncertainties
        (k,) with k of 2 or more; standard uncertainties above zero.

    Raises
    ------
    GlowtraceError
        There are fewer than two groups, or a value or an uncertainty makes no sense.

    Examples
    --------
    >>> found = pool([1.70, 1.80, 1.90], [0.02, 0.02, 0.02])
    >>> round(found.value, 3), round(found.between, 3), round(found.birge_ratio, 1)
    (1.8, 0.098, 5.0)
    """
    y, s = (np.asarray(each, dtype=float) for each in (values, uncertainties))
    if len(y) != len(s) or len(y) < 2:
        raise GlowtraceError(
            Problem("groups", f"{len(y)}", "pooling needs two or more, each with its uncertainty")
        )
    if not (np.isfinite(y).all() and np.isfinite(s).all() and (s > 0).all()):
        raise GlowtraceError("Pooling needs a value and an uncertainty above zero of each group.")
    mean, chi_square = _weighted(y, s)
    variance = _between(s, chi_square)
    value, _ = _weighted(y, np.sqrt(s**2 + variance))
    uncertainty = _uncertainty(np.sqrt(s**2 + variance))
    reach = uncertainty * float(stats.t.ppf(0.5 + LEVEL / 2, len(y) - 1))
    return Pooled(
        values=y,
        uncertainties=s,
        value=value,
        uncertainty=uncertainty,
        between=math.sqrt(variance),
        interval=(value - reach, value + reach),
        fixed=mean,
        fixed_uncertainty=_uncertainty(s),
        chi_square=chi_square,
        lying_out=_lying_out(y, s),
    )


def _weighted(y: Array, s: Array) -> tuple[float, float]:
    """Give the weighted mean and chi-square about it."""
    mean = float(np.average(y, weights=1.0 / s**2))
    return mean, float((((y - mean) / s) ** 2).sum())


def _uncertainty(s: Array) -> float:
    return float(1.0 / math.sqrt((1.0 / s**2).sum()))


def _between(s: Array, chi_square: float) -> float:
    """Give tau^2 by moments; chi-square exceeds k - 1 on average by tau^2 times the divisor."""
    weights = 1.0 / s**2
    divisor = float(weights.sum() - (weights**2).sum() / weights.sum())
    return max(0.0, (chi_square - (len(s) - 1)) / divisor)


def _lying_out(y: Array, s: Array) -> NDArray[np.bool_]:
    """Compare each group with the pooled others; with fewer than four none can be told."""
    count = len(y)
    found = np.zeros(count, dtype=np.bool_)
    if count < 4:
        return found
    for n in range(count):
        others, theirs = np.delete(y, n), np.delete(s, n)
        _, chi_square = _weighted(others, theirs)
        variance = _between(theirs, chi_square)
        spread = np.sqrt(theirs**2 + variance)
        mean, _ = _weighted(others, spread)
        away = abs(y[n] - mean) / math.sqrt(s[n] ** 2 + variance + _uncertainty(spread) ** 2)
        found[n] = 2.0 * stats.t.sf(away, count - 2) < _CHANCE / count
    return found
