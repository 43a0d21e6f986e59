"""Electron in a magnetic field along the tube: the helix, and where a diverging beam refocuses.

An electron that leaves a point at an angle to the field B winds on a helix through the field
line of that point. All electrons of one speed need the same time 2 pi gamma m / (e B) for a turn,
so those at small angles come back to the line almost together: the beam has a focus after each
pitch. Speeds m/s, angles rad, B T, lengths m.
"""

from __future__ import annotations

import numpy as np

from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.demos.circle import gyration_radius
from glowtrace.demos.kinematics import Number, lorentz_factor
from glowtrace.errors import GlowtraceError, Problem


def helix_radius(
    speed: float, angle: Number, B: float, *, specific_charge: float = SPECIFIC_CHARGE
) -> Number:
    """Radius gamma m v sin(angle) / (e |B|) in m; the beam is at most twice this off the line."""
    circle = gyration_radius(speed, B, specific_charge=specific_charge)
    radius: Number = circle * np.abs(np.sin(angle))
    return radius


def helix_pitch(
    speed: float, angle: Number, B: float, *, specific_charge: float = SPECIFIC_CHARGE
) -> Number:
    """Advance in m along the field in one turn, 2 pi gamma m v cos(angle) / (e |B|)."""
    circumference = 2 * np.pi * gyration_radius(speed, B, specific_charge=specific_charge)
    pitch: Number = circumference * np.cos(angle)
    return pitch


def focus_flux_density(
    speed: float,
    distance: float,
    *,
    turns: int = 1,
    angle: float = 0.0,
    specific_charge: float = SPECIFIC_CHARGE,
) -> float:
    """Flux density in T that brings the beam to a focus at a distance, after whole turns.

    Parameters
    ----------
    speed
        Speed in m/s.
    distance
        From the point where the beam begins to diverge to the focus, in m, more than 0.
    turns
        Whole turns up to the focus, 1 or more; 1 is the weakest field that focuses.
    angle
        Angle to the field in rad; 0 is the limit of a narrow beam. Wider rays meet earlier,
        by the factor cos(angle).
    specific_charge
        Magnitude of charge over mass in C/kg.

    Raises
    ------
    GlowtraceError
        If the distance is not positive, or fewer than one turn is asked for.

    Examples
    --------
    >>> from glowtrace.demos.kinematics import speed_from_voltage
    >>> f"{1e3 * focus_flux_density(speed_from_voltage(1000.0), 0.2):.2f} mT"
    '3.35 mT'
    """
    for field, given, lowest in (("distance", distance, 0.0), ("turns", turns - 1, -1)):
        if not given > lowest:
            raise GlowtraceError(Problem(field, str(given), "give a positive number"))
    momentum = lorentz_factor(speed) * speed / specific_charge
    return 2 * np.pi * turns * momentum * float(np.cos(angle)) / distance
