"""Weighted nonlinear fits with errors in every variable and parameters known beforehand.

Minimised is the sum of the squared whitened residuals of all rows
(`glowtrace.measure.fits.conditions`) and of ((theta - theta0) / s)^2 for every parameter that is
known beforehand to theta0 with the
spread s: such knowledge enters like one more reading, and like correlated ones where it is
correlated. `scipy.optimize.least_squares` finds the minimum at fixed adjusted readings and weights;
these then follow until nothing changes. For a straight line the result is that of York et al. 2004.
The covariance comes from a QR decomposition of the slopes, which loses half as many digits as the
normal equations.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import linalg, optimize

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.fits.conditions import Linearised, Series, linearise
from glowtrace.measure.fits.fitted import Fit, FittedSeries
from glowtrace.measure.fits.parameters import Parameter
from glowtrace.measure.fits.prior import are_known, checked_correlation, whitening
from glowtrace.measure.fits.robust import Robust, outlying_rows, row_weights, variance_factors
from glowtrace.watching import UNWATCHED, Cancelled, Progress, Watch

Array = NDArray[np.float64]

_MOST_ROUNDS = 40
_SETTLED = 1e-5
_STEP = 0.02
"""Step of a difference quotient, in scales of a parameter."""
_STEEPEST = 1e-14
"""Slope of the sum of squares that counts as level: rounding, so that changes decide."""
_FIRST_STEP = 30.0
"""How far the search goes at first, in scales: from there it feels its way."""
_LEFT = 0.6
"""Part of the work that is still to be done after a round, of what was before it: roughly."""
_OPEN = 1e-6
"""Slope along a direction, relative to the steepest, below which it counts as not determined."""


def fit(
    series: Sequence[Series],
    parameters: Sequence[Parameter],
    *,
    correlation: ArrayLike | None = None,
    robust: Robust = "none",
    near: Fit | None = None,
    settled: float = _SETTLED,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Fit:
    """Fit parameters to readings with errors in every variable.

    Parameters
    ----------
    series
        One or more; all share the parameters.
    parameters
        In the order in which the conditions take them. At least one is not exact.
    correlation
        Correlation coefficients (p, p) of what is known beforehand; independent when left out.
    robust
        "none": least squares. "huber" or "student": rows far out count less.
    near
        A fit of like readings with the same parameters, to begin at.
    settled
        Change per round, in standard uncertainties of a parameter, that ends the fit.
    progress
        Called with the fraction done, which is estimated, and a few words after each round.
    cancelled
        Asked before each evaluation of the model whether to give up.

    Raises
    ------
    GivenUpError
        If it was cancelled.
    GlowtraceError
        If nothing is to be fitted, a row has no uncertainty at all, the readings do not determine
        the free parameters, or the model gives no value for a row.
    """
    watch = Watch(progress, cancelled)
    tied = checked_correlation(parameters, correlation)
    search = _Search(tuple(parameters), whitening(parameters, tied), watch)
    if not search.varied.any():
        allowed = "leave at least one parameter free or uncertain"
        raise GlowtraceError(Problem("parameters", "only exact ones", allowed))
    theta = search.start if near is None else np.where(search.varied, near.values, search.start)
    beginning = [each.readings for each in series]
    if near is not None:
        beginning = [each.adjusted for each in near.fitted]
    linear = [linearise(each, theta, at) for each, at in zip(series, beginning, strict=True)]
    search.require_enough(linear)
    weights = [np.ones(len(each.readings)) for each in series]
    is_settled = False
    for number in range(_MOST_ROUNDS):
        watch.note(1.0 - _LEFT**number, f"round {number + 1} of the fit")
        new = search.minimum(linear, weights, theta, settled)
        linear = [each.moved(new) for each in linear]
        found = [each.residuals(new) for each in linear]
        weights = [
            row_weights(z, each.is_present, robust) for z, each in zip(found, linear, strict=True)
        ]
        jacobians = [search.jacobian(each, new) for each in linear]
        present = [z[each.is_present] for z, each in zip(found, linear, strict=True)]
        factors = variance_factors(present, robust)
        covariance = search.covariance(jacobians, factors, new)
        size = np.sqrt(np.diag(covariance))
        is_settled = bool(np.all(np.abs(new - theta) <= settled * size))
        theta = new
        if is_settled:
            break
    watch.note(1.0, "fitted")
    rows = sum(len(each.readings) for each in series)
    fitted = tuple(
        FittedSeries(
            label=each.series.label,
            names=each.series.names,
            residuals=z,
            is_present=each.is_present,
            weights=weight,
            outliers=outlying_rows(z, each.is_present, rows),
            adjusted=each.adjusted,
            jacobian=jacobian,
            noise=each.noise(),
        )
        for each, z, weight, jacobian in zip(linear, found, weights, jacobians, strict=True)
    )
    return Fit(
        series=tuple(series),
        parameters=search.parameters,
        robust=robust,
        prior_correlation=tied,
        values=theta,
        covariance=covariance,
        fitted=fitted,
        prior_pull=search.pull(theta),
        variance_factors=factors,
        is_settled=is_settled,
    )


def slopes_at(
    series: Sequence[Series],
    parameters: Sequence[Parameter],
    theta: Array,
    adjusted: Sequence[Array],
) -> tuple[list[Linearised], list[Array]]:
    """Give series taken as straight at parameters (p,), and the slopes (r, c, p) of residuals.

    The slopes of exact parameters are 0.
    """
    search = _Search(tuple(parameters), whitening(parameters, np.eye(len(parameters))))
    linear = [linearise(each, theta, at) for each, at in zip(series, adjusted, strict=True)]
    return linear, [search.jacobian(each, theta) for each in linear]


@dataclass(frozen=True)
class _Search:
    """The parameters as the search sees them: what varies, in units of typical changes."""

    parameters: tuple[Parameter, ...]
    whitening: Array
    """(p, p) of what is known beforehand."""
    watch: Watch = UNWATCHED

    @property
    def start(self) -> Array:
        return np.array([each.value for each in self.parameters], dtype=float)

    def scales(self, theta: Array) -> Array:
        """Sizes (p,) of small changes at parameters (p,)."""
        at = zip(self.parameters, theta, strict=True)
        return np.array([each.scale_at(float(value)) for each, value in at], dtype=float)

    @property
    def varied(self) -> NDArray[np.bool_]:
        return np.array([not each.is_exact for each in self.parameters])

    @property
    def known(self) -> NDArray[np.bool_]:
        return are_known(self.parameters)

    def pull(self, theta: Array) -> Array:
        """Distances (p,) from what is known beforehand, independent of each other; 0 for others."""
        known = self.known
        spread = np.array([each.spread for each in self.parameters])
        away = np.where(known, (theta - self.start) / np.where(known, spread, 1.0), 0.0)
        pull: Array = self.whitening @ away
        return pull

    def require_enough(self, linear: Sequence[Linearised]) -> None:
        free = int(np.sum(self.varied & ~self.known))
        conditions = sum(int(each.is_present.sum()) for each in linear)
        if conditions < free:
            given = f"{conditions} readings for {free} free parameters"
            hint = "take more readings, or state what is known beforehand"
            raise GlowtraceError(Problem("readings", given, hint=hint))

    def jacobian(self, linear: Linearised, theta: Array) -> Array:
        """Change (r, c, p) of the whitened residuals with the parameters, per SI unit."""
        slopes = np.zeros((*linear.is_present.shape, len(theta)))
        steps = _STEP * self.scales(theta)
        shared = linear.slopes_of_shared(theta)
        for n in np.flatnonzero(self.varied):
            if int(n) in shared:
                slopes[:, :, n] = shared[int(n)]
                continue
            self.watch.require_going()
            step = np.zeros_like(theta)
            step[n] = steps[n]
            change = linear.residuals(theta + step) - linear.residuals(theta - step)
            slopes[:, :, n] = change / (2 * step[n])
        return slopes

    def minimum(
        self, linear: Sequence[Linearised], weights: Sequence[Array], theta: Array, settled: float
    ) -> Array:
        """Parameters that minimise the sum of squares at fixed weights."""
        varied, scales = self.varied, self.scales(theta)
        prior = self.whitening[np.ix_(self.known, varied)]
        roots = [np.sqrt(weight)[:, None] for weight in weights]

        def whole(x: Array) -> Array:
            full = self.start
            full[varied] += x * scales[varied]
            return full

        def residuals(x: Array) -> Array:
            self.watch.require_going()
            full = whole(x)
            rows = [(r * e.residuals(full)).ravel() for r, e in zip(roots, linear, strict=True)]
            return np.concatenate([*rows, prior @ x])

        def jacobian(x: Array) -> Array:
            full = whole(x)
            rows = [
                (r[:, :, None] * self.jacobian(e, full)).reshape(-1, len(full))[:, varied]
                for r, e in zip(roots, linear, strict=True)
            ]
            return np.concatenate([*(each * scales[varied] for each in rows), prior])

        limits = [
            (bound - p.value) / scale
            for bounds in ("low", "high")
            for p, scale, is_varied in zip(self.parameters, scales, varied, strict=True)
            if is_varied
            for bound in (getattr(p, bounds),)
        ]
        count = int(varied.sum())
        found = optimize.least_squares(
            residuals,
            (theta - self.start)[varied] / scales[varied],
            jac=jacobian,
            bounds=(np.array(limits[:count]), np.array(limits[count:])),
            x_scale=_FIRST_STEP,
            xtol=1e-5 * settled,
            # The sum of squares grows with the square of the distance from its minimum.
            ftol=max(1e-4 * settled**2, 1e-14),
            gtol=_STEEPEST,
            max_nfev=100,
        )
        return whole(np.asarray(found.x))

    def covariance(
        self, jacobians: Sequence[Array], factors: tuple[float, float], theta: Array
    ) -> Array:
        """Covariance (p, p) of the estimate at parameters (p,) in the linear approximation."""
        varied, scales = self.varied, self.scales(theta)
        slope, square = factors
        flat = np.concatenate([j.reshape(-1, len(scales)) for j in jacobians]) * scales
        rows = np.concatenate([np.sqrt(slope) * flat, self.whitening[self.known]])[:, varied]
        across, triangle = linalg.qr(rows, mode="economic")
        self._require_determined(triangle)
        root = linalg.solve_triangular(triangle, np.eye(len(triangle)))
        # Of each row: the variance that it has over that which its weight stands for
        true = np.ones(len(rows))
        true[: len(flat)] = square / slope
        covariance = np.zeros((len(scales), len(scales)))
        within = np.ix_(varied, varied)
        covariance[within] = root @ (across.T * true) @ across @ root.T
        return covariance * np.outer(scales, scales)

    def _require_determined(self, triangle: Array) -> None:
        size = np.linalg.norm(triangle, axis=0)
        names = [p.name for p in self.parameters if not p.is_exact]
        blind = [name for name, each in zip(names, size, strict=True) if each == 0]
        allowed = "take other readings, or state what is known beforehand"
        if blind:
            given = f"{', '.join(blind)} as free"
            reason = f"the readings do not depend on it; {allowed}"
            raise GlowtraceError(Problem("parameters", given, reason))
        _, values, vectors = np.linalg.svd(triangle / size)
        if values[-1] < _OPEN * values[0]:
            mixed = [n for n, part in zip(names, vectors[-1], strict=True) if abs(part) > 0.1]
            reason = f"the readings do not tell them apart; {allowed}"
            raise GlowtraceError(Problem("parameters", " and ".join(mixed), reason))
