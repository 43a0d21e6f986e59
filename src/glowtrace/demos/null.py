"""Crossed fields that let the beam pass straight: the null, or velocity filter.

With E along y (V/m) and B along z (T) an electron along +x feels F_y = -e E_y + e v B_z. The two
pulls cancel for the one speed E_y / B_z, whatever the charge and the mass, at every speed: the
condition v = E/B is exact in relativity too. Signs: an upper plate V_p volts above the lower
one, a gap d apart, makes E_y = -V_p / d, so the null needs V_p and B_z of opposite signs.
"""

from __future__ import annotations

import math


def drift_speed(E_y: float, B_z: float) -> float:
    """E_y / B_z in m/s: the speed along +x that crossed fields let pass straight.

    Every other electron drifts at this speed on average, as E x B / B^2 says (`trochoid`).
    Negative if both fields pull an electron along +x to the same side; infinite without B_z,
    NaN without either field.
    """
    if B_z == 0:
        return math.nan if E_y == 0 else math.copysign(math.inf, E_y)
    return E_y / B_z


def force_ratio(speed: float, E_y: float, B_z: float) -> float:
    """Electric over magnetic force on an electron with this speed (m/s) along +x.

    Positive where the two oppose each other, 1 at the null, negative where they help each
    other; infinite without B_z, NaN without either field.
    """
    return drift_speed(E_y, B_z) / speed


def null_flux_density(speed: float, E_y: float) -> float:
    """B_z in T that lets electrons of this speed (m/s) pass straight through E_y (V/m)."""
    return E_y / speed


def null_plate_voltage(speed: float, B_z: float, gap: float) -> float:
    """V_p = V(upper) - V(lower) in V that makes the beam straight again in B_z (T).

    `speed` in m/s, `gap` between the plates in m. The sign follows B_z: a coil field that
    pushes the beam up (B_z > 0) needs the upper plate negative.

    Examples
    --------
    >>> f"{null_plate_voltage(3.0e7, 1.0e-3, 0.05):.0f} V"
    '-1500 V'
    """
    return -speed * B_z * gap
