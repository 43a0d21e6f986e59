"""Electron in a uniform magnetic field across its path: the circle.

B is the flux density in T. B_z > 0 bends an electron that flies along +x upwards. The magnetic
force is always across the velocity, so the speed and with it gamma stay: the mass that counts
is gamma m.
"""

from __future__ import annotations

import numpy as np

from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.demos.kinematics import FloatArray, Number, lorentz_factor


def gyration_radius(speed: Number, B: float, *, specific_charge: float = SPECIFIC_CHARGE) -> Number:
    """Radius gamma m v / (e |B|) in m of the circle; infinite without a field.

    `speed` in m/s across the field; raises GlowtraceError if it reaches the speed of light.

    Examples
    --------
    >>> f"{100 * gyration_radius(1.0e7, 1.0e-3):.2f} cm"
    '5.69 cm'
    """
    with np.errstate(divide="ignore"):
        radius: Number = lorentz_factor(speed) * speed / np.abs(np.float64(specific_charge * B))
    return radius


def gyration_frequency(
    B: float, speed: float = 0.0, *, specific_charge: float = SPECIFIC_CHARGE
) -> float:
    """Angular frequency e |B| / (gamma m) in rad/s; the same for all slow electrons."""
    return specific_charge * abs(B) / lorentz_factor(speed)


def arc_height(
    x: FloatArray, speed: float, B_z: float, *, specific_charge: float = SPECIFIC_CHARGE
) -> FloatArray:
    """Height y in m of the arc at x, for an electron that starts at the origin along +x.

    Holds for the first quarter of the circle, |x| up to the radius; NaN beyond, where the
    electron never comes. B_z = 0 gives the straight line.
    """
    curvature = specific_charge * B_z / (lorentz_factor(speed) * speed)
    with np.errstate(invalid="ignore"):
        # y = R - sqrt(R^2 - x^2) without its cancellation for a flat arc.
        height: FloatArray = curvature * x**2 / (1 + np.sqrt(1 - (curvature * x) ** 2))
    return height
