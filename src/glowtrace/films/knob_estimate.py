"""A knob that is not known, found from the line in each frame.

The computed line is tabulated over the knob's range; the value that lies closest to what was read
is found by least squares. Heights of one frame share the errors of its map: a shift and a turn of
known size are fitted along, so that the interval is not that of independent points.

It is an estimate within the bench as it is described: what is wrong about the bench is not in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.computed_line import computed_line
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.films.film_reading import FilmReadings
from glowtrace.units import format_quantity
from glowtrace.watching import UNWATCHED, Watch

Array = NDArray[np.float64]

_VALUES: Final = 61
"""Of the knob that are tabulated."""
_FACTOR: Final = 1.959964
_SHIFT: Final = 0.02e-3
"""Standard deviation in m of what a map shifts the whole line by, and turns its ends by."""
_OWN: Final = 0.02e-3
"""Least standard deviation in m of a single height."""
_FEWEST: Final = 15
_WIDEST: Final = 0.25
"""Half an interval that is wider than this part of the knob's range tells nothing."""


class Estimate(NamedTuple):
    """A knob's value (SI) in one frame; nan where the line does not tell it."""

    value: float
    half: float
    """Half the 95 % interval."""

    def words(self, unit: str) -> str:
        """Give the value to two figures of its interval.

        Examples
        --------
        >>> Estimate(1012.3, 3.04).words("V"), Estimate(-0.411, 3.2).words("V")
        ('1.0123 kV ± 3.0 V (95 %, estimate)', '−400 mV ± 3.2 V (95 %, estimate)')
        """
        if not math.isfinite(self.value):
            return "(not told by the line)"
        half = format_quantity(self.half, unit, 2, style="typeset")
        last = math.floor(math.log10(float(f"{self.half:.1e}"))) - 1
        known = round(self.value, -last)
        figures = math.floor(math.log10(abs(known))) - last + 1 if known else 1
        value = format_quantity(known, unit, figures, style="typeset")
        return f"{value} ± {half} (95 %, estimate)"


NOTHING: Final = Estimate(math.nan, math.nan)


@dataclass(frozen=True, eq=False)
class KnobTable:
    """Computed lines (k, s) at values (k,) of a knob, at the stations of a screen."""

    values: Array
    heights: Array
    """nan where the computed line does not come by."""


def knob_table(
    prepared: PreparedBench, settings: Settings, knob: str, u: Array, watch: Watch = UNWATCHED
) -> KnobTable:
    """Tabulate the computed line over the range of a knob, both polarities where it has them.

    All other knobs stay as they are in the settings.
    """
    low, high, _ = knob_ranges(prepared.bench)[knob]
    low = low if knob == "accelerating_voltage" else -high
    high = min(high, settings.accelerating_voltage) if knob == "plate_voltage" else high
    values = np.linspace(max(low, -high), high, _VALUES)
    rows = []
    for n, value in enumerate(values):
        watch.note(n / _VALUES, "computing lines to compare with")
        turned = settings.turned(**{knob: float(value)})
        rows.append(computed_line(prepared, turned).at(u))
    return KnobTable(values, np.array(rows))


def estimated_knob(readings: FilmReadings, table: KnobTable) -> Sequence[Estimate]:
    """Estimate the knob in every frame of a film."""
    return [
        NOTHING
        if readings.is_lost[number]
        else estimate(readings.u, readings.heights[number], table, float(readings.scatter[number]))
        for number in range(len(readings))
    ]


def estimate(u: Array, heights: Array, table: KnobTable, scatter: float) -> Estimate:
    """Find the knob's value at which the computed line lies closest to heights (s,)."""
    seen = np.isfinite(heights)
    if seen.sum() < _FEWEST:
        return NOTHING
    lines, read = table.heights[:, seen], heights[seen].astype(float)
    comes = np.isfinite(lines).mean(axis=1) > 0.7
    if comes.sum() < 4:
        return NOTHING
    values, lines = table.values[comes], lines[comes]
    covariance = _covariance(u[seen], read, scatter)
    weights = np.linalg.inv(covariance)
    misses = np.nan_to_num(read - lines)
    costs = np.einsum("ks,st,kt->k", misses, weights, misses)
    nearest = int(costs.argmin())
    if nearest in (0, len(values) - 1) or _has_second(costs, nearest):
        return NOTHING
    near = slice(nearest - 1, nearest + 2)
    # Between three tabulated lines a parabola through each station; Newton's steps find the value.
    at, value = values[near], float(values[nearest])
    bends = np.polyfit(at - at[1], np.nan_to_num(lines[near]), 2)
    x, spread = 0.0, math.inf
    for _ in range(4):
        rest = read - (bends[0] * x * x + bends[1] * x + bends[2])
        slope = 2 * bends[0] * x + bends[1]
        information = float(slope @ weights @ slope)
        if information <= 0.0:
            return NOTHING
        x += float(slope @ weights @ rest) / information
        spread = 1.0 / math.sqrt(information)
    value += x
    half = _FACTOR * spread
    if not abs(x) < 1.5 * (at[1] - at[0]) or half > _WIDEST * (values[-1] - values[0]):
        return NOTHING
    return Estimate(value, half)


def _covariance(u: Array, read: Array, scatter: float) -> Array:
    """Covariance (s, s) of the heights of a frame: their own scatter, and the map's errors."""
    rough = np.diff(read, 2)
    own = max(1.4826 * float(np.median(np.abs(rough))) / math.sqrt(6.0), _OWN)
    along = (u - u.mean()) / max(float(np.ptp(u)) / 2, 1e-9)
    shift = math.hypot(_SHIFT, scatter / 3)
    shared = np.stack([np.ones_like(u), along])
    covariance: Array = own**2 * np.eye(len(u)) + shift**2 * shared.T @ shared
    return covariance


def _has_second(costs: Array, nearest: int) -> bool:
    """Whether another value, away from the nearest, fits about as well."""
    apart = np.abs(np.arange(len(costs)) - nearest) > 2
    inner = np.flatnonzero((costs[1:-1] < costs[:-2]) & (costs[1:-1] < costs[2:]) & apart[1:-1])
    return bool((costs[1 + inner] < costs[nearest] + 25.0).any())
