"""How far the line that was read lies from the computed one, near its end."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from glowtrace.bench.computed_line import ComputedLine
from glowtrace.films.film_reading import FilmReadings
from glowtrace.units import format_measurement, format_quantity

_STATIONS: Final = 10
"""Over so many of the last stations that are seen it is averaged."""
READING: Final = 0.05e-3
"""Standard uncertainty in m that all heights of a frame share: what rendered films show."""


class Difference(NamedTuple):
    """Read minus computed, m."""

    u: float
    """Where along the screen."""
    value: float
    uncertainty: float
    """Standard, of the reading alone."""

    @property
    def words(self) -> str:
        """The difference, its sign and its place."""
        size = format_measurement(self.value, self.uncertainty, "mm", style="typeset")
        place = format_quantity(self.u, "mm", 2, style="typeset")
        return f"read − computed at {place}: {size}"


def difference_at(readings: FilmReadings, number: int, computed: ComputedLine) -> Difference | None:
    """Compare a frame with a computed line; None where they have nothing in common.

    Averaged over the last stations at which the line is seen and was computed.
    """
    off = readings.heights[number] - computed.at(readings.u)
    known = np.flatnonzero(np.isfinite(off))[-_STATIONS:]
    if len(known) < _STATIONS // 2:
        return None
    own = float(np.std(off[known], ddof=1)) / math.sqrt(len(known))
    whole = math.hypot(own, READING, float(readings.scatter[number]))
    return Difference(float(readings.u[known].mean()), float(off[known].mean()), whole)
