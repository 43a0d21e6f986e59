"""Numbers of an electron's life in words: powers of ten as they are written by hand."""

from __future__ import annotations

import math
from typing import Final

from glowtrace.constants import ELEMENTARY_CHARGE
from glowtrace.units import fixed, format_measurement, percent, scientific

EXACT: Final = 5e-7
"""Length in m below which a path counts as exactly a circle: far less than a trace shows."""

_FINEST = 1e-6
"""Uncertainty in m below which none is told."""
_SIGNIFICANT = 1e-12
"""Below this part of what it is compared with, a number is nothing but rounding."""


def force_text(force: float, *, beside: float = 0.0) -> str:
    """Write a force in N; what is only rounding beside another force is nothing."""
    return scientific(0.0 if abs(force) <= _SIGNIFICANT * abs(beside) else force, "N")


def speed_text(speed: float) -> str:
    """Write a speed in m/s."""
    return scientific(speed, "m/s", 3)


def energy_text(energy: float, *, signed: bool = False) -> str:
    """Write an energy, given in J, in eV: no finer than a hundredth, and with four figures.

    Examples
    --------
    >>> energy_text(4.8e-16), energy_text(-1.0e-18, signed=True), energy_text(1e-25)
    ('2996 eV', '−6.24 eV', '0.00 eV')
    """
    value = energy / ELEMENTARY_CHARGE
    decimals = 2 if abs(value) < 9.995 else 1 if abs(value) < 99.95 else 0
    return f"{fixed(value, decimals, signed=signed)} eV"


def length_text(length: float) -> str:
    """Write a length in mm, and what is far smaller with a power of ten in m.

    Examples
    --------
    >>> length_text(0.01234), length_text(-3e-4), length_text(2e-6), length_text(1e-15)
    ('12.3 mm', '−0.30 mm', '2 µm', '1.0 × 10⁻¹⁵ m')
    """
    size = abs(length)
    if size == 0.0:
        return "0 mm"
    if size < 5e-7:
        return scientific(length, "m")
    if size < 1e-5:
        return f"{fixed(length * 1e6)} µm"
    decimals = 1 if size >= 9.995e-3 else 2
    return f"{fixed(length * 1e3, decimals)} mm"


def circle_text(radius: float, off: float) -> str:
    """Write what circle a path runs round, and how closely, where that is not exact.

    Examples
    --------
    >>> circle_text(0.0122, 5e-5), circle_text(0.0392, 6e-10)
    ('a circle of 12.2 mm radius, within 0.05 mm of it', 'a circle of 39.2 mm radius')
    """
    closely = f", within {length_text(off)} of it" if off >= EXACT else ""
    return f"a circle of {length_text(radius)} radius{closely}"


def time_text(time: float) -> str:
    """Write a time in ns.

    Examples
    --------
    >>> time_text(3.04e-9)
    '3.04 ns'
    """
    return f"{1e9 * time:#.3g} ns".replace(". ", " ")


def angle_text(angle: float) -> str:
    """Write an angle, given in rad, in degrees.

    Examples
    --------
    >>> angle_text(1.5707963)
    '90.0°'
    """
    return f"{fixed(math.degrees(angle), 1)}°"


def percent_text(part: float) -> str:
    """Write a part of a whole as a percentage of two or three figures.

    Examples
    --------
    >>> percent_text(0.10788), percent_text(0.0049), percent_text(1.137), percent_text(0.00042)
    ('10.8 %', '0.49 %', '114 %', '0.04 %')
    """
    value = 100.0 * part
    decimals = 2 if abs(value) < 0.995 else 1 if abs(value) < 99.95 else 0
    return percent(part, decimals)


def measured_text(length: float, uncertainty: float) -> str:
    """Write a length with its standard uncertainty, in mm.

    Examples
    --------
    >>> measured_text(5.82e-4, 1.3e-5), measured_text(5e-4, 0.0)
    ('0.582(13) mm', '0.50 mm')
    """
    if uncertainty <= 0.0:
        return f"{1e3 * length:.2f} mm"
    return format_measurement(length, max(uncertainty, _FINEST), "mm")


def shift_text(length: float, *, signed: bool = True) -> str:
    """Write a shift in hundredths of a millimetre.

    Examples
    --------
    >>> shift_text(-8.6e-4), shift_text(2e-6), shift_text(1.2e-4, signed=False)
    ('−0.86 mm', '0.00 mm', '0.12 mm')
    """
    return f"{fixed(1e3 * length, 2, signed=signed)} mm"


def share_text(part: float, uncertainty: float = 0.0) -> str:
    """Write a part in per cent, with its uncertainty in brackets where that is 0.5 % or more.

    Examples
    --------
    >>> share_text(0.854, 0.029), share_text(0.35), share_text(0.002)
    ('85(3) %', '35 %', '< 1 %')
    """
    if uncertainty >= 0.005:
        return f"{fixed(100 * part)}({fixed(100 * uncertainty)}) %"
    return "< 1 %" if abs(part) < 0.005 else percent(part)
