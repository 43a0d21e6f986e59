"""Crossed fields that let the beam pass straight: the null, or velocity filter.

With E along y (V/m) and B along z (T) an electron along +x feels F_y = -e E_y + e v B_z. The two
pulls cancel for the one speed E_y / B_z, whatever the charge and the mass, at every speed: the
condition v = E/B is exact in relativity too. Signs: an upper plate V_p volts above the lower
one, a gap d apart, makes E_y = -V_p / d, so the null needs V_p and B_z of opposite signs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.demos.kinematics import speed_from_voltage


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


@dataclass(frozen=True)
class NullBalance:
    """What a null on a real bench says of the speed, and what textbooks would read from it."""

    current: float
    """A, with which the beam is straight here."""
    textbook_current: float
    """A, with which it would be straight in uniform fields that end with the plates."""
    speed: float
    """m/s, of the accelerating voltage."""
    ratio: float
    """E/B in m/s from V/d and the field in the middle of thin coils at `current`."""

    @property
    def excess(self) -> float:
        """By how much E/B is above the speed, as a fraction of it."""
        return self.ratio / self.speed - 1.0

    def as_dict(self) -> dict[str, Any]:
        """Give plain data; numbers carry their unit in the key."""
        return {
            "current_a": self.current,
            "textbook_current_a": self.textbook_current,
            "speed_m_per_s": self.speed,
            "ratio_of_fields_m_per_s": self.ratio,
            "excess": self.excess,
        }


def null_balance(bench: Bench, settings: Settings) -> NullBalance | None:
    """Read a null as textbooks do; None without plates, a coil pair's field, or a beam.

    Parameters
    ----------
    bench, settings
        A bench, and settings at which its beam is straight in crossed fields.
    """
    per_ampere = abs(flux_density_per_ampere(bench)[2])
    current, across = settings.coil_current, settings.plate_voltage
    if bench.plates is None or not (per_ampere and current and across):
        return None
    if settings.accelerating_voltage == 0.0:
        return None
    field = across / bench.plates.gap
    speed = float(speed_from_voltage(settings.accelerating_voltage))
    textbook = null_flux_density(speed, field) / per_ampere
    return NullBalance(current, textbook, speed, drift_speed(field, per_ampere * current))
