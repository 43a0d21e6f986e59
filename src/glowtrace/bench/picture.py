"""What a bench with its settings gives: the picture on the screen, and one ray in detail."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.settings import Settings

Array = NDArray[np.float64]
Model = Literal["bench", "ideal"]
"""`bench`: the real geometry. `ideal`: uniform fields with sharp edges, as textbooks have it."""
_ENOUGH = 3
"""Electrons that a row needs before a middle and a width are given for it."""


@dataclass(frozen=True)
class MeanTrace:
    """The middle of the trace and its width, row by row.

    On a sheet a row is a narrow column of the screen and the width is along v; in gas a row is a
    distance along the path and the width is across the path; an end face has one row, the spot.
    """

    u: Array
    """(k,) m."""
    v: Array
    """(k,) m."""
    width_v: Array
    """(k,) one standard deviation in m."""
    weight: Array
    """(k,) electrons in the row."""

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


@dataclass(frozen=True)
class Picture:
    """The light that one setting makes on the screen, with its ingredients."""

    settings: Settings
    model: Model
    view: str
    """Kind of screen: "sheet", "end face" or "gas glow"."""
    electrons: int
    seed: int
    ends: dict[str, int]
    """How many electrons ended on what."""
    landings: Array
    """(n, 2): u, v in m of electrons that reached a phosphor screen."""
    paths: Array
    """(n, m, 3): positions in m along the path, NaN after the end; only when asked for."""
    image: Array
    """(v, u) light, rows upwards; J per electron on phosphor, m of path per electron in gas."""
    extent: tuple[float, float, float, float]
    """(u0, u1, v0, v1) of the image in m."""
    mean_trace: MeanTrace


@dataclass(frozen=True)
class Ray:
    """The beam's axis as one electron: no spread, no size."""

    model: Model
    time: Array
    """(m,) s."""
    position: Array
    """(m, 3) m."""
    velocity: Array
    """(m, 3) m/s."""
    potential: Array
    """(m,) V relative to the anode."""
    electric_field: Array
    """(m, 3) V/m."""
    flux_density: Array
    """(m, 3) T."""
    end: str
    """What the electron ended on."""


def mean_trace(sums: Array, view: str) -> MeanTrace:
    """Turn the sums of a bundle (m, 6: weight, u, v, uu, uv, vv) into the middle and the width."""
    sums = sums[sums[:, 0] >= _ENOUGH]
    if len(sums) == 0:
        nothing = np.zeros(0)
        return MeanTrace(nothing, nothing, nothing, nothing)
    weight = sums[:, 0]
    u, v, uu, uv, vv = (sums[:, 1:] / weight[:, None]).T
    sample = weight / (weight - 1.0)
    var_u, cov, var_v = sample * (uu - u * u), sample * (uv - u * v), sample * (vv - v * v)
    if view == "gas glow":
        # Across the path: the part of the spread at right angles to the way the middle moves.
        du, dv = (np.gradient(u), np.gradient(v)) if len(u) > 1 else (np.ones(1), np.zeros(1))
        length = np.hypot(du, dv)
        length[length == 0.0] = 1.0
        sideways, upwards = -dv / length, du / length
        variance = sideways**2 * var_u + 2 * sideways * upwards * cov + upwards**2 * var_v
    elif view == "sheet":
        # A column has a width of its own: leave out the part that comes from the trace's slope.
        sloped = np.divide(cov * cov, var_u, out=np.zeros_like(cov), where=var_u > 0.0)
        variance = var_v - sloped
    else:
        variance = var_v
    return MeanTrace(u, v, np.sqrt(np.maximum(variance, 0.0)), weight)
