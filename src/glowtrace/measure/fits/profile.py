"""The profile of a parameter: the smallest sum of squares at each of its values.

References
----------
G. A. F. Seber, C. J. Wild, "Nonlinear Regression", Wiley 1989, chapter 5.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy import optimize

from glowtrace.measure.fits.conditions import linearise
from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.fitting import fit as fit_again
from glowtrace.measure.fits.parameters import index_of
from glowtrace.measure.fits.prior import held
from glowtrace.watching import Watch

_LIMITS = ("low", "high")
_FURTHEST = 64.0
_ROUGH = 0.01
"""Where fits beside the best one may end, in standard uncertainties: 1e-4 in the sum of squares."""
_LEFT = 0.4
"""Part of the work on an end that is still to be done after a fit, of what was before: roughly."""
_CLOSE = 1e-3
"""Error of an end, as a part of the distance from the best value."""


def profile_ends(fit: Fit, name: str, quantile: float, watch: Watch) -> tuple[float, float]:
    """Where the smallest sum of squares has risen by the square of a quantile, below and above.

    Infinite on a side where it never does. The fit is an ordinary one, its parameter not exact.
    """
    position = index_of(fit.parameters, name)
    parameter = fit.parameters[position]
    best, half = fit.value(name), quantile * fit.uncertainty(name)

    def end(outwards: float, limit: float, stretch: Watch, words: str) -> float:
        fits = 0

        def distance(value: float) -> float:
            """Root of the rise of the sum of squares: straight where the fit is linear."""
            nonlocal fits
            stretch.note(1.0 - _LEFT**fits, words)
            fits += 1
            rise = _smallest(fit, position, value, watch) - fit.chi_square
            return math.sqrt(max(rise, 0.0)) / quantile - 1.0

        return _end(distance, best, outwards, limit)

    low = end(-half, parameter.low, watch.stretch(0.0, 0.5), "lower end of the interval")
    high = end(half, parameter.high, watch.stretch(0.5, 1.0), "upper end of the interval")
    watch.note(1.0, "both ends found")
    return low, high


def _smallest(fit: Fit, position: int, value: float, watch: Watch) -> float:
    """Smallest sum of squares with one parameter held at a value."""
    parameter = fit.parameters[position]
    own = 0.0 if parameter.is_free else ((value - parameter.value) / parameter.spread) ** 2
    parameters, correlation = held(fit.parameters, fit.prior_correlation, position, value)
    # Where the others would lie if the fit were linear
    column = fit.covariance[:, position]
    moved = fit.values + column / column[position] * (value - fit.values[position])
    moved = np.clip(moved, *(np.array([getattr(p, end) for p in parameters]) for end in _LIMITS))
    if any(not each.is_exact for each in parameters):
        near = replace(fit, values=moved)
        again = fit_again(
            fit.series, parameters, correlation=correlation, near=near, settled=_ROUGH,
            cancelled=watch.cancelled,
        )  # fmt: skip
        return again.chi_square + own
    total = own
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
