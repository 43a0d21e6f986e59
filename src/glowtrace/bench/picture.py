"""What a bench with its settings gives: the picture on the screen, and one ray in detail."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.path import Path
from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.bench.settings import Settings
from glowtrace.shown import Shown
from glowtrace.units import format_quantity

Array = NDArray[np.float64]
Model = Literal["bench", "ideal"]
"""`bench`: the real geometry. `ideal`: uniform fields with sharp edges, as textbooks have it."""
_ENOUGH = 3
"""Electrons that a row needs before a middle and a width are given for it."""
_ROWS_BESIDE = 2
"""Rows on either side, at least, that the width of a sheet's row is taken from."""
_ROWS_A_REACH = 40
"""The same as a part of all rows."""
_NO_SPREAD = 1e-30
"""Mean square or fourth power in m^2 or m^4 below which rows are at one place."""


@dataclass(frozen=True, eq=False)
class MeanTrace:
    """The middle of the trace and its width, row by row.

    On a sheet a row is a narrow column of the screen and the width is along v; in gas a row is a
    distance along the path and the width is across the path; an end face has one row, the spot,
    and its width is the root mean square of both directions.
    """

    u: Array
    """(k,) m."""
    v: Array
    """(k,) m."""
    width_v: Array
    """(k,) one standard deviation in m."""
    weight: Array
    """(k,) electrons in the row."""

    def __repr__(self) -> str:
        if len(self.u) == 0:
            return "MeanTrace: no light"
        u, v = (format_quantity(float(each[-1]), "mm") for each in (self.u, self.v))
        return f"MeanTrace: {len(self.u)} rows, the last at u = {u}, v = {v}"

    def at(self, u: float) -> tuple[float, float] | None:
        """Give (v, width) in m at one u, by straight lines between rows; None off the trace.

        Where the trace doubles back over itself the row nearest along its course is used.
        """
        if len(self.u) == 0:
            return None
        for n in range(len(self.u) - 1):
            a, b = self.u[n], self.u[n + 1]
            if a != b and min(a, b) <= u <= max(a, b):
                f = (u - a) / (b - a)
                return (
                    float(self.v[n] + f * (self.v[n + 1] - self.v[n])),
                    float(self.width_v[n] + f * (self.width_v[n + 1] - self.width_v[n])),
                )
        return None


@dataclass(frozen=True, eq=False)
class Picture(Shown):
    """The light that one setting makes on the screen, with its ingredients."""

    settings: Settings
    model: Model
    plane: ScreenPlane
    """What it is seen on."""
    electrons: int
    seed: int
    ends: dict[str, int]
    """How many electrons ended on what."""
    landings: Array
    """(n, 2): u, v in m of electrons that reached a phosphor screen."""
    paths: Array
    """(n, m, 3): positions in m along the path, NaN after the end; only when asked for."""
    image: Array
    """(v, u) light of all electrons together, rows upwards: their energy in J where they land on
    phosphor, their path in m in gas."""
    extent: tuple[float, float, float, float]
    """(u0, u1, v0, v1) of the image in m."""
    mean_trace: MeanTrace

    def __repr__(self) -> str:
        ends = ", ".join(f"{count} {name}" for name, count in self.ends.items())
        return (
            f"Picture ({self.model} model): {self.settings!r}\n"
            f"  {self.electrons} electrons: {ends or 'none left the gun'}\n  {self.mean_trace!r}"
        )


@dataclass(frozen=True, eq=False, kw_only=True, repr=False)
class Ray(Path):
    """The path of one electron with the fields along it: no spread, no size."""

    model: Model
    potential: Array
    """(t,) V relative to the anode."""
    electric_field: Array
    """(t, 3) V/m."""
    flux_density: Array
    """(t, 3) T."""


def mean_trace(sums: Array, plane: ScreenPlane) -> MeanTrace:
    """Turn the sums of a bundle (m, 6: weight, u, v, uu, uv, vv) into the middle and the width.

    The electrons fill the aperture, the angles and the energies evenly, so that the mean of n of
    them is known far better than that of n random ones: no degree of freedom is taken off.
    """
    kept = sums[:, 0] >= _ENOUGH
    weight = sums[kept, 0]
    if len(weight) == 0:
        nothing = np.zeros(0)
        return MeanTrace(nothing, nothing, nothing, nothing)
    u, v, uu, uv, vv = (sums[kept, 1:] / weight[:, None]).T
    var_u, cov, var_v = uu - u * u, uv - u * v, vv - v * v
    if plane.glows:
        # Across the path: the part of the spread at right angles to the way the middle moves.
        du, dv = (np.gradient(u), np.gradient(v)) if len(u) > 1 else (np.ones(1), np.zeros(1))
        length = np.hypot(du, dv)
        length[length == 0.0] = 1.0
        sideways, upwards = -dv / length, du / length
        variance = sideways**2 * var_u + 2 * sideways * upwards * cov + upwards**2 * var_v
    elif plane.is_line:
        reach = max(_ROWS_BESIDE, len(sums) // _ROWS_A_REACH)
        near = np.abs(np.subtract.outer(np.flatnonzero(kept), np.flatnonzero(kept))) <= reach
        variance = _about_the_line(near * weight, u, v, np.stack([var_u, cov, var_v]))
    else:
        variance = (var_u + var_v) / 2.0
    return MeanTrace(u, v, np.sqrt(np.maximum(variance, 0.0)), weight)


def _about_the_line(weight: Array, u: Array, v: Array, spreads: Array) -> Array:
    """Variance (k,) of v about the line's own course, from each row and those beside it.

    A row has a width along the screen, so the line's slope spreads it: the slope comes from a
    parabola through the middles of the rows nearby. Within a row height and place are related by
    the way electrons are dealt; that evens out over a few rows only.

    Parameters
    ----------
    weight
        (k, k) of the rows j that count for a row k.
    u, v
        (k,) middles of the rows in m.
    spreads
        (3, k) variance of u, covariance, variance of v in each row.
    """
    total = weight.sum(axis=1, keepdims=True)

    def mean(values: Array) -> Array:
        result: Array = (weight * values).sum(axis=1, keepdims=True) / total
        return result

    # Polynomials that are orthogonal over the rows that count, and their slopes.
    line = u - mean(u + np.zeros_like(weight))
    square = mean(line * line)
    tilt = _ratio(mean(line**3), square)
    bow = line * line - tilt * line - square
    along = _ratio(mean(line * v), square)
    curved = _ratio(mean(bow * v), mean(bow * bow))
    off = v - mean(v + np.zeros_like(weight)) - along * line - curved * bow
    slope = along + curved * (2.0 * line - tilt)
    var_u, cov, var_v = spreads
    spread = var_v - 2.0 * slope * cov + slope * slope * var_u + off * off
    # A line grows wider along its way: what the rows to one side alone say is carried over.
    growth = _ratio(mean(line * spread), square)
    variance: Array = mean(spread)[:, 0] + growth[:, 0] * np.diagonal(line)
    return variance


def _ratio(numerator: Array, denominator: Array) -> Array:
    """Divide; 0 where too few rows count for a slope or a bend."""
    return np.divide(
        numerator, denominator, out=np.zeros_like(numerator), where=denominator > _NO_SPREAD
    )
