"""Readings with errors in every variable, and the conditions that they obey in the model.

A row of readings q (k) with independent standard uncertainties u (k) obeys g(theta, q') = 0 at its
true readings q'. By Deming's method the true readings are eliminated: at adjusted readings a the
conditions are taken as straight, g(q') = g(a) + G (q' - a), which leaves the whitened residual

    z = L^-1 [g(theta, a) + G (q - a)],   L L^T = G u^2 G^T.

Errors that several rows share (a meter's gain, the one reading of a knob that stood still, the map
of a photograph) are parameters. They act on the conditions through the readings alone, so their
slopes follow from G without asking the model again.

Index letters: r rows, k readings in a row, c conditions on a row, p parameters.

References
----------
W. E. Deming, "Statistical Adjustment of Data", Wiley 1943. H. I. Britt, R. H. Luecke, "The
estimation of parameters in nonlinear, implicit models", Technometrics 15 (1973) 233-247.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from glowtrace.errors import GlowtraceError

Array = NDArray[np.float64]
Shifts = Callable[[Array, Array], Mapping[int, Array]]
"""From parameters (p,) and readings (r, k) to what readings show too much (r, k) for one unit of
each parameter that acts on readings alone, by its position."""

_STEP = 0.02
"""Step of a difference quotient, in standard uncertainties of a reading."""


_NO_READING = (
    "the model gives no such reading at these settings (the beam ends before); check the row and "
    "what is known of the tube"
)


def _no_shifts(theta: Array, readings: Array) -> Mapping[int, Array]:
    return {}


class RowError(GlowtraceError):
    """A row of readings that cannot be fitted.

    Attributes
    ----------
    series, row, reason
        Where it stands (row from 0), and what is wrong with it.
    """

    def __init__(self, series: Series, row: int, reason: str) -> None:
        self.series, self.row, self.reason = series, row, reason
        super().__init__(f"{series.label}, row {row + 1}: {reason}")

    def __reduce__(self) -> tuple[type[GlowtraceError], tuple[str]]:
        """Go to another process without the series, whose conditions cannot."""
        return GlowtraceError, (str(self),)


class NoSuchReadingError(RowError):
    """A row whose settings the model has no such reading for."""


@dataclass(frozen=True, eq=False)
class Series:
    """Rows of readings that obey the same conditions."""

    label: str
    names: tuple[str, ...]
    """Names of the readings, (k,)."""
    readings: Array
    """(r, k) in SI units."""
    uncertainties: Array
    """(r, k) standard uncertainties, 0 where exact."""
    conditions: Callable[[Array, Array], Array]
    """From parameters (p,) and readings (r, k) to what should be zero (r, c); NaN: no condition."""
    offsets: Mapping[int, Array] = field(default_factory=dict)
    """What readings show too much (r, k) for one unit of an error that rows share, by the position
    of its parameter. The conditions know nothing of these."""
    meter_shifts: Shifts = _no_shifts
    """The same for parameters that the conditions know of."""
    steps: Array | None = None
    """(r, k) sizes of small changes of the readings; their uncertainties when left out."""

    def misfits(self, theta: Array, readings: Array) -> Array:
        """What should be zero (r, c), the errors that rows share taken off the readings (r, k)."""
        net = readings
        for position, offset in self.offsets.items():
            net = net - theta[position] * offset
        return self.conditions(theta, net)

    def shifts(self, theta: Array, readings: Array) -> Mapping[int, Array]:
        """What readings show too much, for all parameters that act on readings alone."""
        return {**self.offsets, **self.meter_shifts(theta, readings)}

    def refuse(self, row: int, reason: str) -> RowError:
        """Give the error that says what is wrong with a row."""
        return RowError(self, row, reason)


@dataclass(frozen=True, eq=False)
class Linearised:
    """A series with its conditions taken as straight at adjusted readings."""

    series: Series
    adjusted: Array
    """(r, k)."""
    slopes: Array
    """(r, c, k) G."""
    is_present: NDArray[np.bool_]
    """(r, c) where there is a condition."""
    whitening: Array
    """(r, c, c) L^-1."""
    sizes: Array
    """(r, k) sizes of the changes of readings from which the slopes were taken; 0: none were."""

    def residuals(self, theta: Array) -> Array:
        """Whitened residuals (r, c) at parameters (p,); 0 where there is no condition.

        Raises
        ------
        GlowtraceError
            If the model gives no value for a row.
        """
        white: Array = np.einsum("rcd,rd->rc", self.whitening, self._plain(theta))
        return white

    def noise(self) -> Array:
        """Whitened residual (r, c, k) that one standard uncertainty of each reading makes."""
        scaled = self.slopes * self.series.uncertainties[:, None, :]
        white: Array = np.einsum("rcd,rdk->rck", self.whitening, scaled)
        return white

    def slopes_of_shared(self, theta: Array) -> dict[int, Array]:
        """Slopes (r, c) of the whitened residuals for each parameter that acts on readings alone.

        Left out are those that act on a reading of which the conditions were given no slope.
        """
        is_known = self.sizes > 0
        return {
            position: -np.einsum("rcd,rdk,rk->rc", self.whitening, self.slopes, shift)
            for position, shift in self.series.shifts(theta, self.adjusted).items()
            if np.all(is_known | (shift == 0) | np.isnan(self.series.readings))
        }

    def moved(self, theta: Array) -> Linearised:
        """Give the series with its readings adjusted to new parameters."""
        white = self.residuals(theta)
        back = np.einsum("rdc,rd->rc", self.whitening, white)
        shift = np.einsum("rck,rc->rk", self.slopes, back) * self.series.uncertainties**2
        return linearise(self.series, theta, self.series.readings - shift)

    def _plain(self, theta: Array) -> Array:
        raw = self.series.misfits(theta, self.adjusted)
        away = np.nan_to_num(self.series.readings - self.adjusted)  # empty cells stay empty
        linear = np.einsum("rck,rk->rc", self.slopes, away)
        plain = np.where(self.is_present, raw + linear, 0.0)
        _require_finite(self.series, plain)
        return plain


def linearise(series: Series, theta: Array, adjusted: Array) -> Linearised:
    """Take the conditions of a series as straight at parameters (p,) and readings (r, k).

    Raises
    ------
    GlowtraceError
        If a row has no uncertainty at all, or the model gives no value for it.
    """
    raw = series.misfits(theta, adjusted)
    is_present = ~np.isnan(raw)
    _require_finite(series, np.where(is_present, raw, 0.0))
    slopes = np.zeros((*is_present.shape, len(series.names)))
    sizes = series.uncertainties if series.steps is None else series.steps
    for n, size in enumerate(sizes.T):
        if not np.any(size > 0):
            continue
        step = np.zeros_like(adjusted)
        step[:, n] = _STEP * size
        change = series.misfits(theta, adjusted + step) - series.misfits(theta, adjusted - step)
        slopes[:, :, n] = np.divide(
            change,
            2 * step[:, n, None],
            out=np.zeros_like(change),
            where=is_present & (step[:, n, None] > 0),
        )
    _require_finite(series, slopes.sum(axis=2))
    whitening = np.linalg.inv(np.linalg.cholesky(_covariance(series, slopes, is_present)))
    return Linearised(series, adjusted, slopes, is_present, whitening, sizes)


def _covariance(series: Series, slopes: Array, is_present: NDArray[np.bool_]) -> Array:
    """Covariance (r, c, c) of the conditions; 1 for one that is not there."""
    if not is_present.any(axis=1).all():
        row = int(np.flatnonzero(~is_present.any(axis=1))[0])
        raise NoSuchReadingError(series, row, _NO_READING)
    covariance: Array = np.einsum("rck,rk,rdk->rcd", slopes, series.uncertainties**2, slopes)
    for c in range(is_present.shape[1]):
        covariance[~is_present[:, c], c, c] = 1.0
    exact = np.flatnonzero((np.diagonal(covariance, axis1=1, axis2=2) <= 0).any(axis=1))
    if len(exact):
        allowed = "every reading is exact; state an instrument, or an uncertainty in the cell"
        raise series.refuse(int(exact[0]), allowed)
    # Two conditions may hang on one reading: the tiny rest keeps them apart.
    size = np.einsum("rcc->rc", covariance)
    count = np.arange(is_present.shape[1])
    covariance[:, count, count] += 1e-12 * size
    return covariance


def _require_finite(series: Series, values: Array) -> None:
    if not np.all(np.isfinite(values)):
        row = int(np.flatnonzero(~np.isfinite(values).all(axis=1))[0])
        raise NoSuchReadingError(series, row, _NO_READING)
