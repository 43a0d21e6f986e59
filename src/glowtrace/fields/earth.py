"""The Earth's magnetic field at a place and date, in the axes of the bench.

From the 14th generation of the International Geomagnetic Reference Field (IGRF-14, valid 1900 to
2030), see `glowtrace.fields.geomagnetic`. The model leaves out magnetised rock, iron in the
building and magnetic storms: indoors expect a few microtesla of difference.
"""

from __future__ import annotations

import datetime
import functools
from math import cos, isfinite, pi, sin

import numpy as np
from numpy.typing import NDArray

from glowtrace.errors import FieldMapError
from glowtrace.fields.geomagnetic import main_field

FIRST_DATE = datetime.date(1900, 1, 1)
LAST_DATE = datetime.date(2030, 1, 1)


def earth_flux_density(
    latitude: float, longitude: float, altitude: float, date: datetime.date, heading: float
) -> NDArray[np.float64]:
    """Flux density of the Earth's field in the axes of a bench: x along its heading, y up.

    Parameters
    ----------
    latitude, longitude
        Geodetic, in rad; north and east positive.
    altitude
        Height over the WGS84 ellipsoid in m, from -10 km to 600 km.
    date
        From 1900-01-01 to 2030-01-01.
    heading
        Compass bearing of the bench's +x in rad, from geographic north (0) over east (pi/2).

    Returns
    -------
    NDArray
        (3,) in T along x, y, z of the bench; z is to the right of x.

    Raises
    ------
    FieldMapError
        A place or date that the model does not cover.
    """
    _require_range("latitude", latitude, -pi / 2, pi / 2, "rad")
    _require_range("longitude", longitude, -2 * pi, 2 * pi, "rad")
    _require_range("altitude", altitude, -10e3, 600e3, "m")
    if not isfinite(heading):
        raise FieldMapError(f"Earth's field, heading: {heading} rad is not a finite number.")
    # datetime is a subclass of date that does not compare with one
    day = datetime.date(date.year, date.month, date.day)
    if not FIRST_DATE <= day <= LAST_DATE:
        raise FieldMapError(
            f"Earth's field, date: {day} is not allowed; give {FIRST_DATE} to {LAST_DATE}, "
            "the years that the model IGRF-14 covers."
        )
    east, north, up = _igrf_components(latitude, longitude, altitude, day)
    return np.array(
        [
            north * cos(heading) + east * sin(heading),
            up,
            east * cos(heading) - north * sin(heading),
        ]
    )


@functools.lru_cache(maxsize=16)  # a bench is turned, and asked again, at one place
def _igrf_components(
    latitude: float, longitude: float, altitude: float, day: datetime.date
) -> tuple[float, float, float]:
    """Components (east, north, up) in T."""
    # the poles themselves have no east: stay a metre away from them
    limit = pi / 2 - 1.7e-7
    return main_field(min(max(latitude, -limit), limit), longitude, altitude, day)


def _require_range(name: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise FieldMapError(
            f"Earth's field, {name}: {value} {unit} is not allowed; "
            f"give {low:.6g} to {high:.6g} {unit}."
        )
