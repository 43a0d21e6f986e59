"""The International Geomagnetic Reference Field: a sum of spherical harmonics of the main field.

Symbols of the literature: ``g``, ``h`` the Gauss coefficients, ``n``, ``m`` degree and order,
``P`` the associated Legendre functions in Schmidt's semi-normalisation, ``theta`` the colatitude
from the Earth's centre, ``r`` the distance from it.

References
----------
IGRF-14: International Association of Geomagnetism and Aeronomy, doi:10.5281/zenodo.14012302; the
coefficients in ``igrf14.txt`` are the published ones.
Synthesis: R. A. Langel in J. A. Jacobs (ed.), "Geomagnetism" vol. 1 (1987), ch. 4 (from memory).
WGS84: semi-major axis 6378.137 km, flattening 1/298.257223563.
"""

from __future__ import annotations

import datetime
import functools
from importlib.resources import files
from math import atan2, cos, hypot, sin, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_REFERENCE_RADIUS: Final = 6371.2e3
"""Radius that the coefficients refer to, in m."""
_SEMI_MAJOR_AXIS: Final = 6378.137e3
_FLATTENING: Final = 1 / 298.257223563
_DEGREES: Final = 13


def main_field(
    latitude: float, longitude: float, altitude: float, day: datetime.date
) -> tuple[float, float, float]:
    """Give the components (east, north, up) in T.

    Parameters
    ----------
    latitude, longitude
        Geodetic, in rad; not at a pole, which has no east.
    altitude
        Over the ellipsoid WGS84, in m.
    day
        From 1900-01-01 to 2030-01-01, the years of the model.
    """
    r, theta = _from_the_centre(latitude, altitude)
    g, h = _coefficients(day)
    P, slope = _legendre(theta)
    n, m = np.arange(_DEGREES + 1)[:, None], np.arange(_DEGREES + 1)
    falling = (_REFERENCE_RADIUS / r) ** (n + 2)
    along, across = np.cos(m * longitude), np.sin(m * longitude)
    wave = g * along + h * across
    outward = float(np.sum((n + 1) * falling * wave * P))
    southward = -float(np.sum(falling * wave * slope))
    east = float(np.sum(falling * m * (g * across - h * along) * P)) / sin(theta)
    # The plumb line of the ellipsoid leans from the line through the centre.
    lean = latitude - (np.pi / 2 - theta)
    north = -southward * cos(lean) - outward * sin(lean)
    up = outward * cos(lean) - southward * sin(lean)
    return 1e-9 * east, 1e-9 * north, 1e-9 * up


def _from_the_centre(latitude: float, altitude: float) -> tuple[float, float]:
    """Distance in m and colatitude in rad of a place, as seen from the Earth's centre."""
    eccentricity = _FLATTENING * (2 - _FLATTENING)
    normal = _SEMI_MAJOR_AXIS / sqrt(1 - eccentricity * sin(latitude) ** 2)
    outward = (normal + altitude) * cos(latitude)
    upward = (normal * (1 - eccentricity) + altitude) * sin(latitude)
    return hypot(outward, upward), atan2(outward, upward)


def _legendre(theta: float) -> tuple[Array, Array]:
    """Legendre functions (n, m) and their derivatives after the colatitude."""
    c, s = cos(theta), sin(theta)
    P, slope = np.zeros((2, _DEGREES + 1, _DEGREES + 1))
    P[0, 0] = 1.0
    for n in range(1, _DEGREES + 1):
        to_next = sqrt(1 - 0.5 / n) if n > 1 else 1.0
        P[n, n] = to_next * s * P[n - 1, n - 1]
        slope[n, n] = to_next * (s * slope[n - 1, n - 1] + c * P[n - 1, n - 1])
        for m in range(n):
            one, two = 2 * n - 1, sqrt((n - 1) ** 2 - m**2)
            below, below_slope = (P[n - 2, m], slope[n - 2, m]) if n > 1 else (0.0, 0.0)
            size = sqrt(n**2 - m**2)
            P[n, m] = (one * c * P[n - 1, m] - two * below) / size
            rise = c * slope[n - 1, m] - s * P[n - 1, m]
            slope[n, m] = (one * rise - two * below_slope) / size
    return P, slope


def _coefficients(day: datetime.date) -> tuple[Array, Array]:
    """Gauss coefficients g and h (n, m) in nT, linear between the years that are published."""
    years, orders, values = _published()
    after = min(int(np.searchsorted(years, day.year, side="right")), len(years) - 1)
    first, last = (datetime.date(int(year), 1, 1) for year in years[after - 1 : after + 1])
    share = (day - first) / (last - first)
    now = (1 - share) * values[:, after - 1] + share * values[:, after]
    g, h = np.zeros((2, _DEGREES + 1, _DEGREES + 1))
    for (n, m), value in zip(orders, now, strict=True):
        (h if m < 0 else g)[n, abs(m)] = value
    return g, h


@functools.cache
def _published() -> tuple[Array, NDArray[np.intp], Array]:
    """Years (t,); degree and order (k, 2), negative for h; coefficients (k, t) in nT."""
    text = files("glowtrace.fields").joinpath("igrf14.txt").read_text(encoding="utf-8")
    rows = np.loadtxt(text.splitlines())
    return rows[0, 2:], rows[1:, :2].astype(np.intp), rows[1:, 2:]
