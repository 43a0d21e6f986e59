"""Straight lines through readings: ordinary least squares, and errors in both variables.

References
----------
D. York, N. M. Evensen, M. L. Martinez, J. De Basabe Delgado, "Unified equations for the slope,
intercept, and standard errors of the best straight line", Am. J. Phys. 72 (2004) 367-375.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from glowtrace.errors import GlowtraceError, Problem

Array = NDArray[np.float64]
_MOST_ROUNDS = 200


class LineValue(NamedTuple):
    """A value read off the line, with its standard uncertainty."""

    value: float
    uncertainty: float


@dataclass(frozen=True)
class Line:
    """A fitted straight line y = intercept + slope x."""

    intercept: float
    slope: float
    covariance: Array
    """(2, 2) of intercept and slope."""
    chi_square: float
    """Sum of the squared weighted residuals; of an unweighted line, their plain sum."""
    degrees_of_freedom: int
    residuals: Array
    """(n,) y minus line, in the unit of y."""

    @property
    def intercept_uncertainty(self) -> float:
        """Standard uncertainty of the intercept."""
        return math.sqrt(self.covariance[0, 0])

    @property
    def slope_uncertainty(self) -> float:
        """Standard uncertainty of the slope."""
        return math.sqrt(self.covariance[1, 1])

    @property
    def correlation(self) -> float:
        """Correlation coefficient of intercept and slope."""
        both = self.intercept_uncertainty * self.slope_uncertainty
        return float(self.covariance[0, 1] / both)

    @property
    def reduced_chi_square(self) -> float:
        """Chi-square over its degrees of freedom; near 1 if the stated uncertainties are right."""
        return self.chi_square / self.degrees_of_freedom

    def at(self, x: float) -> LineValue:
        """Give the line's y at x, with its standard uncertainty."""
        gradient = np.array([1.0, x])
        variance = float(gradient @ self.covariance @ gradient)
        return LineValue(self.intercept + self.slope * x, math.sqrt(max(variance, 0.0)))

    def scaled_to_scatter(self) -> Line:
        """Give the line with uncertainties scaled so that the reduced chi-square becomes 1."""
        return Line(
            self.intercept,
            self.slope,
            self.covariance * self.reduced_chi_square,
            float(self.degrees_of_freedom),
            self.degrees_of_freedom,
            self.residuals,
        )


def ordinary_line(x: ArrayLike, y: ArrayLike) -> Line:
    """Fit a line with equal, unknown errors in y only; their size is taken from the scatter.

    Parameters
    ----------
    x, y
        (n,) each, n at least 3, with two or more different x.

    Raises
    ------
    GlowtraceError
        If there are too few points, lengths differ, or all x are the same.
    """
    xs, ys = _points(x, y)
    mean_x, mean_y = xs.mean(), ys.mean()
    across = xs - mean_x
    spread = float(across @ across)
    slope = float(across @ (ys - mean_y)) / spread
    intercept = float(mean_y - slope * mean_x)
    residuals = (ys - mean_y) - slope * across
    total = float(residuals @ residuals)
    variance = total / (len(xs) - 2)
    covariance = variance * np.array(
        [
            [1 / len(xs) + mean_x**2 / spread, -mean_x / spread],
            [-mean_x / spread, 1 / spread],
        ]
    )
    return Line(intercept, slope, covariance, total, len(xs) - 2, residuals)


def york_line(
    x: ArrayLike,
    y: ArrayLike,
    x_uncertainty: ArrayLike,
    y_uncertainty: ArrayLike,
    correlation: ArrayLike = 0.0,
) -> Line:
    """Fit a line to points with known standard uncertainties in both variables.

    Parameters
    ----------
    x, y
        (n,) each, n at least 3.
    x_uncertainty, y_uncertainty
        Standard uncertainties, (n,) or one number; those of y, or both, more than 0.
    correlation
        Correlation of the two errors of a point, (n,) or one number, between -1 and 1.

    Returns
    -------
    Line
        With the standard errors of York et al. 2004, at the adjusted points, not scaled to the
        scatter.

    Raises
    ------
    GlowtraceError
        As for `ordinary_line`, and for uncertainties that are negative or all zero for a point.
    """
    xs, ys = _points(x, y)
    ux = np.broadcast_to(np.asarray(x_uncertainty, dtype=float), xs.shape)
    uy = np.broadcast_to(np.asarray(y_uncertainty, dtype=float), xs.shape)
    r = np.broadcast_to(np.asarray(correlation, dtype=float), xs.shape)
    if not (np.all(ux >= 0) and np.all(uy >= 0) and np.all(ux + uy > 0)):
        allowed = "give 0 or more, and more than 0 for x or y of each point"
        raise GlowtraceError(Problem("uncertainty", "a negative or missing one", allowed))
    slope = ordinary_line(xs, ys).slope
    covariance_xy = r * ux * uy
    for _ in range(_MOST_ROUNDS):
        weight = 1.0 / (uy**2 + slope**2 * ux**2 - 2 * slope * covariance_xy)
        mean_x, mean_y = np.average(xs, weights=weight), np.average(ys, weights=weight)
        u, v = xs - mean_x, ys - mean_y
        beta = weight * (uy**2 * u + slope * ux**2 * v - (slope * u + v) * covariance_xy)
        new = float((weight * beta) @ v / ((weight * beta) @ u))
        is_done = abs(new - slope) <= 1e-15 * abs(new)
        slope = new
        if is_done:
            break
    intercept = float(mean_y - slope * mean_x)
    adjusted = mean_x + beta
    middle = np.average(adjusted, weights=weight)
    slope_variance = 1.0 / float(weight @ (adjusted - middle) ** 2)
    covariance = np.array(
        [
            [1.0 / weight.sum() + middle**2 * slope_variance, -middle * slope_variance],
            [-middle * slope_variance, slope_variance],
        ]
    )
    residuals = ys - intercept - slope * xs
    chi_square = float(weight @ residuals**2)
    return Line(intercept, slope, covariance, chi_square, len(xs) - 2, residuals)


def _points(x: ArrayLike, y: ArrayLike) -> tuple[Array, Array]:
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if xs.ndim != 1 or xs.shape != ys.shape or len(xs) < 3:
        given = f"x of shape {xs.shape} and y of shape {ys.shape}"
        raise GlowtraceError(Problem("points", given, "give 3 or more of each, as many x as y"))
    if not (np.all(np.isfinite(xs)) and np.all(np.isfinite(ys))):
        raise GlowtraceError(Problem("points", "a missing number", "give finite numbers"))
    if np.ptp(xs) == 0:
        raise GlowtraceError(Problem("x", "the same for all points", "give different ones"))
    return xs, ys
