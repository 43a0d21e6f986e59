"""Coverage intervals of a fitted parameter: linear, by profile, and by Monte Carlo.

The profile of a parameter is the smallest sum of squares at each of its values; the interval ends
where it has risen by the square of the normal quantile. The Monte Carlo interval refits readings
drawn around the fit, with the knowledge beforehand drawn anew as well (parametric bootstrap).

References
----------
G. A. F. Seber, C. J. Wild, "Nonlinear Regression", Wiley 1989, chapter 5 (profiles). B. Efron,
R. J. Tibshirani, "An Introduction to the Bootstrap", Chapman and Hall 1993, chapter 6.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, stats

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.conditions import linearise
from glowtrace.measure.fitted import Fit
from glowtrace.measure.fitting import fit as fit_again
from glowtrace.measure.parameters import Parameter, index_of, with_changes

Array = NDArray[np.float64]
Cancelled = Callable[[], bool]

_LIMITS = ("low", "high")
_ASYMMETRY = 0.1
"""Difference of an end from the linear one, as a part of the half width, that is still fine."""
_FURTHEST = 64.0
_ROUGH = 0.01
"""Where fits beside the best one may end, in standard uncertainties: 1e-4 in the sum of squares."""
_TRIAL = 1e-3
"""Where the fit of a trial may end, in standard uncertainties."""
_CLOSE = 1e-3
"""Error of an end of a profile interval, as a part of the half width."""


@dataclass(frozen=True)
class Interval:
    """A coverage interval of a parameter, SI."""

    name: str
    low: float
    high: float
    level: float
    how: Literal["linear", "profile", "monte carlo"]
    note: str = ""
    """Why it was not left at the linear one."""


def linear_interval(fit: Fit, name: str, level: float = 0.95) -> Interval:
    """Give the symmetric interval of the linear approximation."""
    half = _quantile(level) * fit.uncertainty(name)
    value = fit.value(name)
    return Interval(name, value - half, value + half, level, "linear")


def profile_interval(
    fit: Fit, name: str, level: float = 0.95, *, cancelled: Cancelled | None = None
) -> Interval:
    """Give the interval in which the smallest sum of squares stays near its minimum.

    An end that is never reached is infinite: the readings set no limit there.

    Parameters
    ----------
    fit, name, level
        The fit, one of its parameters, and the coverage probability.
    cancelled
        Asked before each step whether to give up.

    Raises
    ------
    GlowtraceError
        If the parameter is unknown or exact, the fit is a robust one, or it was given up.
    """
    position = _varied(fit, name)
    if fit.robust != "none":
        allowed = "use the Monte Carlo interval of a robust fit"
        raise GlowtraceError(str(Problem("interval", '"profile" of a robust fit', allowed)))
    best, half = fit.value(name), _quantile(level) * fit.uncertainty(name)
    parameter = fit.parameters[position]

    def distance(value: float) -> float:
        """Root of the rise of the sum of squares: straight where the fit is linear."""
        _require_going(cancelled)
        rise = _smallest(fit, position, value) - fit.chi_square
        return math.sqrt(max(rise, 0.0)) / _quantile(level) - 1.0

    low = _end(distance, best, -half, parameter.low)
    high = _end(distance, best, half, parameter.high)
    return Interval(name, low, high, level, "profile")


def interval(
    fit: Fit, name: str, level: float = 0.95, *, cancelled: Cancelled | None = None
) -> Interval:
    """Give the linear interval where it is good enough, else the profile, and say why."""
    linear = linear_interval(fit, name, level)
    if fit.robust != "none":
        return linear
    profile = profile_interval(fit, name, level, cancelled=cancelled)
    half = (linear.high - linear.low) / 2
    worst = max(abs(profile.low - linear.low), abs(profile.high - linear.high)) / half
    if worst <= _ASYMMETRY:
        return linear
    note = f"the linear interval is off by {100 * worst:.0f} % of its half width"
    return replace(profile, note=note)


def monte_carlo_values(fit: Fit, name: str, *, trials: int = 200, seed: int = 0) -> Array:
    """Values (trials,) of a parameter from refits to drawn readings, sorted.

    A trial whose readings cannot be fitted is NaN and sorted to the end.

    Raises
    ------
    GlowtraceError
        If the parameter is unknown or exact, or fewer than 20 trials are asked for.
    """
    _varied(fit, name)
    if trials < 20:
        raise GlowtraceError(str(Problem("trials", str(trials), "ask for 20 or more")))
    return np.sort(np.fromiter(islice(monte_carlo_trials(fit, name, seed=seed), trials), float))


def monte_carlo_trials(fit: Fit, name: str, *, seed: int = 0) -> Iterator[float]:
    """Give the values of `monte_carlo_values` one after the other, in the order drawn, without end.

    For whoever shows how far they are, or stops before; errors as there.
    """
    position = _varied(fit, name)
    generator = np.random.default_rng(seed)
    while True:
        series = [
            replace(
                each,
                readings=done.adjusted
                + each.uncertainties * generator.normal(size=each.readings.shape),
            )
            for each, done in zip(fit.series, fit.fitted, strict=True)
        ]
        parameters = [
            replace(p, value=_drawn(p, float(value), generator)) if not p.is_exact else p
            for p, value in zip(fit.parameters, fit.values, strict=True)
        ]
        try:
            again = fit_again(series, parameters, robust=fit.robust, near=fit, settled=_TRIAL)
            yield float(again.values[position])
        except GlowtraceError:
            yield math.nan


def monte_carlo_interval(
    fit: Fit, name: str, level: float = 0.95, *, trials: int = 200, seed: int = 0
) -> Interval:
    """Give the interval between quantiles of `monte_carlo_values`; errors as there."""
    found = monte_carlo_values(fit, name, trials=trials, seed=seed)
    good = found[np.isfinite(found)]
    if len(good) < 20:
        given = f"{len(good)} of {trials} trials could be fitted"
        raise GlowtraceError(str(Problem("interval", given, "take more readings")))
    low, high = np.quantile(good, [(1 - level) / 2, (1 + level) / 2])
    lost = trials - len(good)
    note = f"{lost} of {trials} trials could not be fitted" if lost else ""
    return Interval(name, float(low), float(high), level, "monte carlo", note)


def _quantile(level: float) -> float:
    if not 0 < level < 1:
        raise GlowtraceError(str(Problem("level", str(level), "give more than 0 and less than 1")))
    return float(stats.norm.ppf((1 + level) / 2))


def _varied(fit: Fit, name: str) -> int:
    position = index_of(fit.parameters, name)
    if fit.parameters[position].is_exact:
        raise GlowtraceError(str(Problem(name, "an exact parameter", "choose one that was fitted")))
    return position


def _drawn(parameter: Parameter, value: float, generator: np.random.Generator) -> float:
    if parameter.is_free:
        return value
    draw = parameter.draw(generator)
    return float(np.clip(value + parameter.spread * draw, parameter.low, parameter.high))


def _require_going(cancelled: Cancelled | None) -> None:
    if cancelled is not None and cancelled():
        raise GlowtraceError("the computation was cancelled")


def _smallest(fit: Fit, position: int, value: float) -> float:
    """Smallest sum of squares with one parameter held at a value."""
    parameter = fit.parameters[position]
    held = 0.0 if parameter.is_free else ((value - parameter.value) / parameter.spread) ** 2
    parameters = with_changes(fit.parameters, parameter.name, value=value, spread=0.0)
    # Where the others would lie if the fit were linear
    column = fit.covariance[:, position]
    moved = fit.values + column / column[position] * (value - fit.values[position])
    moved = np.clip(moved, *(np.array([getattr(p, end) for p in parameters]) for end in _LIMITS))
    if any(not each.is_exact for each in parameters):
        near = replace(fit, values=moved)
        return fit_again(fit.series, parameters, near=near, settled=_ROUGH).chi_square + held
    total = held
    for each, done in zip(fit.series, fit.fitted, strict=True):
        linear = linearise(each, moved, done.adjusted)
        for _ in range(5):
            linear = linear.moved(moved)
        total += float((linear.residuals(moved) ** 2).sum())
    return total


def _end(distance: Callable[[float], float], best: float, half: float, limit: float) -> float:
    """Where the distance crosses zero on the side of ``half``; infinite if it never does.

    The distance is nearly straight, so that the first chord is mostly near enough.
    """
    inner, below = best, -1.0
    reach = half
    while True:
        outer = min(best + reach, limit) if half > 0 else max(best + reach, limit)
        above = distance(outer)
        if above >= 0 or abs(above) <= _CLOSE:
            break
        if outer == limit or abs(reach) > _FURTHEST * abs(half):
            return math.copysign(math.inf, half)
        inner, below = outer, above
        # As far as the chord tells, and a little more, so that the end lies between.
        reach *= min(1.02 / max(1.0 + above, 0.5), 2.0)
    if abs(above) <= _CLOSE:
        return outer
    middle = inner - below * (outer - inner) / (above - below)
    known = {inner: below, outer: above, middle: distance(middle)}
    if abs(known[middle]) <= _CLOSE:
        return middle
    inner, outer = (middle, outer) if known[middle] < 0 else (inner, middle)
    return float(
        optimize.brentq(
            lambda value: known[value] if value in known else distance(value),
            min(inner, outer),
            max(inner, outer),
            xtol=_CLOSE * abs(half),
        )
    )
