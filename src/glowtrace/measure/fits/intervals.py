"""Coverage intervals of a fitted parameter: linear, by profile, and by Monte Carlo.

The profile of a parameter is the smallest sum of squares at each of its values; the interval ends
where it has risen by the square of the normal quantile. The Monte Carlo interval refits readings
drawn around the fit, with the knowledge beforehand drawn anew as well (parametric bootstrap).

References
----------
B. Efron, R. J. Tibshirani, "An Introduction to the Bootstrap", Chapman and Hall 1993, chapter 6.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.fitting import fit as fit_again
from glowtrace.measure.fits.parameters import Parameter, index_of
from glowtrace.measure.fits.prior import are_known, drawn_together
from glowtrace.measure.fits.profile import profile_ends
from glowtrace.watching import Cancelled, GivenUpError, Progress, Watch

Array = NDArray[np.float64]

_ASYMMETRY = 0.1
"""Difference of an end from the linear one, as a part of the half width, that is still fine."""
_TRIAL = 1e-3
"""Where the fit of a trial may end, in standard uncertainties."""


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
    fit: Fit,
    name: str,
    level: float = 0.95,
    *,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Interval:
    """Give the interval in which the smallest sum of squares stays near its minimum.

    An end that is never reached is infinite: the readings set no limit there.

    Parameters
    ----------
    fit, name, level
        The fit, one of its parameters, and the coverage probability.
    progress
        Called with the fraction done, which is estimated, and a few words after each fit.
    cancelled
        Asked before each evaluation of the model whether to give up.

    Raises
    ------
    GivenUpError
        If it was cancelled.
    GlowtraceError
        If the parameter is unknown or exact, or the fit is a robust one.
    """
    _varied(fit, name)
    if fit.robust != "none":
        hint = "use the Monte Carlo interval of a robust fit"
        raise GlowtraceError(Problem("interval", '"profile" of a robust fit', hint=hint))
    low, high = profile_ends(fit, name, _quantile(level), Watch(progress, cancelled))
    return Interval(name, low, high, level, "profile")


def interval(
    fit: Fit,
    name: str,
    level: float = 0.95,
    *,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Interval:
    """Give the linear interval where it is good enough, else the profile, and say why.

    Parameters and errors as for `profile_interval`.
    """
    linear = linear_interval(fit, name, level)
    if fit.robust != "none":
        return linear
    profile = profile_interval(fit, name, level, progress=progress, cancelled=cancelled)
    half = (linear.high - linear.low) / 2
    worst = max(abs(profile.low - linear.low), abs(profile.high - linear.high)) / half
    if worst <= _ASYMMETRY:
        return linear
    note = f"the linear interval is off by {100 * worst:.0f} % of its half width"
    return replace(profile, note=note)


def monte_carlo_values(
    fit: Fit,
    name: str,
    *,
    trials: int = 200,
    seed: int = 0,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Array:
    """Values (trials,) of a parameter from refits to drawn readings, sorted.

    A trial whose readings cannot be fitted is NaN and sorted to the end.

    Parameters
    ----------
    fit, name
        The fit and one of its parameters.
    trials, seed
        Number of refits, and where the random numbers begin.
    progress
        Called with the fraction done and a few words after each trial.
    cancelled
        Asked before each evaluation of the model whether to give up.

    Raises
    ------
    GivenUpError
        If it was cancelled; `monte_carlo_trials` gives what was found before.
    GlowtraceError
        If the parameter is unknown or exact, or fewer than 20 trials are asked for.
    """
    _varied(fit, name)
    if trials < 20:
        raise GlowtraceError(Problem("trials", str(trials), "ask for 20 or more"))
    watch = Watch(progress, cancelled)
    values = np.empty(trials)
    found = islice(monte_carlo_trials(fit, name, seed=seed, cancelled=cancelled), trials)
    for n, value in enumerate(found):
        values[n] = value
        watch.note((n + 1) / trials, f"trial {n + 1} of {trials}")
    return np.sort(values)


def monte_carlo_trials(
    fit: Fit, name: str, *, seed: int = 0, cancelled: Cancelled | None = None
) -> Iterator[float]:
    """Give the values of `monte_carlo_values` one after the other, in the order drawn, without end.

    For whoever shows how far they are, or stops before; errors as there.
    """
    position = _varied(fit, name)
    generator = np.random.default_rng(seed)
    known = are_known(fit.parameters)
    while True:
        series = [
            replace(
                each,
                readings=done.adjusted
                + each.uncertainties * generator.normal(size=each.readings.shape),
            )
            for each, done in zip(fit.series, fit.fitted, strict=True)
        ]
        away = drawn_together(
            fit.prior_correlation,
            np.array(
                [
                    p.draw(generator) if n else 0.0
                    for p, n in zip(fit.parameters, known, strict=True)
                ]
            ),
        )
        parameters = [
            replace(p, value=_shifted(p, value, draw))
            for p, value, draw in zip(
                fit.parameters, fit.values.tolist(), away.tolist(), strict=True
            )
        ]
        try:
            again = fit_again(
                series, parameters, correlation=fit.prior_correlation, robust=fit.robust, near=fit,
                settled=_TRIAL, cancelled=cancelled,
            )  # fmt: skip
            yield float(again.values[position])
        except GivenUpError:
            raise
        except GlowtraceError:
            yield math.nan


def monte_carlo_interval(
    fit: Fit,
    name: str,
    level: float = 0.95,
    *,
    trials: int = 200,
    seed: int = 0,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Interval:
    """Give the interval between quantiles of `monte_carlo_values`; errors as there."""
    found = monte_carlo_values(
        fit, name, trials=trials, seed=seed, progress=progress, cancelled=cancelled
    )
    good = found[np.isfinite(found)]
    if len(good) < 20:
        given = f"{len(good)} of {trials} trials could be fitted"
        raise GlowtraceError(Problem("interval", given, hint="take more readings"))
    low, high = np.quantile(good, [(1 - level) / 2, (1 + level) / 2])
    lost = trials - len(good)
    note = f"{lost} of {trials} trials could not be fitted" if lost else ""
    return Interval(name, float(low), float(high), level, "monte carlo", note)


def _quantile(level: float) -> float:
    if not 0 < level < 1:
        raise GlowtraceError(Problem("level", str(level), "give more than 0 and less than 1"))
    return float(special.ndtri((1 + level) / 2))


def _varied(fit: Fit, name: str) -> int:
    position = index_of(fit.parameters, name)
    if fit.parameters[position].is_exact:
        raise GlowtraceError(Problem(name, "an exact parameter", hint="choose one that was fitted"))
    return position


def _shifted(parameter: Parameter, value: float, draw: float) -> float:
    if draw == 0.0:
        return value
    return float(np.clip(value + parameter.spread * draw, parameter.low, parameter.high))
