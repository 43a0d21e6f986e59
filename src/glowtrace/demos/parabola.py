"""Electron in a uniform transverse electric field: the parabola, and the straight line after it.

The electron enters along x; E_y is the field along y in V/m, and a negative E_y (upper plate
positive) pushes the electron up. In the textbook's limit the path is the parabola
y = -e E_y x^2 / (2 m v^2). Exactly, with p_x constant, it is the catenary

    y = -(c / (v b)) (cosh(b x) - 1),   b = e E_y / (gamma m v c),

which the functions here give without cancellation for every field, zero included.
Edges are sharp: there is no field outside the plates (the ideal model).
"""

from __future__ import annotations

import numpy as np

from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.demos.kinematics import Number, lorentz_factor


def parabola_height(
    x: Number, speed: float, E_y: float, *, specific_charge: float = SPECIFIC_CHARGE
) -> Number:
    """Height y in m after x metres between the plates.

    Parameters
    ----------
    x
        Distance along the plates in m, from where the field begins; float or array.
    speed
        Speed in m/s on entry, along x, more than 0.
    E_y
        Field between the plates in V/m.
    specific_charge
        Magnitude of charge over mass in C/kg.

    Raises
    ------
    GlowtraceError
        If the speed is negative or reaches the speed of light.

    Examples
    --------
    Electrons of 2.5 kV, 10 cm of plates 5 cm apart with 500 V between them: y in mm.

    >>> from glowtrace.demos.kinematics import speed_from_voltage
    >>> f"{1e3 * parabola_height(0.1, speed_from_voltage(2500.0), -500 / 0.05):.2f}"
    '10.02'
    """
    half = _bend(speed, E_y, specific_charge) * x / 2
    # (cosh 2s - 1) / b = x sinh(s) sinh(s)/s with s = b x / 2: exact for the smallest deflection,
    # and no division by a field of zero or next to it.
    nonzero = np.where(half == 0, 1.0, half)
    ratio = np.where(half == 0, 1.0, np.sinh(nonzero) / nonzero)[()]
    height: Number = -SPEED_OF_LIGHT / speed * x * np.sinh(half) * ratio
    return height


def parabola_slope(
    x: Number, speed: float, E_y: float, *, specific_charge: float = SPECIFIC_CHARGE
) -> Number:
    """Slope dy/dx after x metres between the plates; parameters and errors as `parabola_height`.

    In the textbook's limit it is -e E_y x / (m v^2).
    """
    bend = _bend(speed, E_y, specific_charge)
    slope: Number = -SPEED_OF_LIGHT / speed * np.sinh(bend * x)
    return slope


def height_beyond_plates(
    x: Number,
    plate_length: float,
    speed: float,
    E_y: float,
    *,
    specific_charge: float = SPECIFIC_CHARGE,
) -> Number:
    """Height y in m at x: the parabola up to the plates' end, the tangent there from then on.

    `plate_length` in m is where the field ends; the rest as `parabola_height`. The tangent, drawn
    backwards, meets the axis near the middle of the plates (exactly there in the textbook's limit).
    """
    within: Number = np.minimum(x, plate_length)
    slope = parabola_slope(plate_length, speed, E_y, specific_charge=specific_charge)
    height = parabola_height(within, speed, E_y, specific_charge=specific_charge)
    return height + slope * (x - within)


def _bend(speed: float, E_y: float, specific_charge: float) -> float:
    """Give b of the catenary, in 1/m."""
    return specific_charge * E_y / (lorentz_factor(speed) * speed * SPEED_OF_LIGHT)
