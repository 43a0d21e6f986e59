"""Fields of a bench that need no map: Earth's at its place, and its coils' anywhere around it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.layout import bench_windings
from glowtrace.bench.model import Bench, Place
from glowtrace.fields.coils import Winding, winding_field
from glowtrace.fields.earth import earth_flux_density

__all__ = ["Winding", "coil_flux_density", "earth_at", "winding_field"]

Array = NDArray[np.float64]


def earth_at(place: Place, heading: float | None = None) -> Array:
    """Earth's flux density (3,) in T at a place and date, in the axes of the bench.

    ``heading`` in rad stands instead of the bench's own where it is told.
    """
    return earth_flux_density(
        place.latitude,
        place.longitude,
        place.altitude,
        place.date,
        place.heading if heading is None else heading,
    )


def coil_flux_density(bench: Bench, points: Array) -> Array:
    """Flux density (n, 3) in T of each ampere in the bench's coils at points (n, 3) in m."""
    return winding_field(bench_windings(bench), points)
