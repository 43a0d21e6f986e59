"""Speed, Lorentz factor and momentum of an electron from its accelerating voltage, exactly.

With the energy ratio k = V / V_0, where V_0 = m c^2 / e, special relativity gives gamma = 1 + k,
p = m c sqrt(k (k + 2)) and v = c sqrt(k (k + 2)) / (1 + k). These forms never subtract nearly
equal numbers, so they hold from microvolts to megavolts. All quantities are SI.

Every function that depends on the particle takes `specific_charge`, the magnitude of charge over
mass in C/kg: an e/m under test can stand in the electron's place, and so can an ion of a textbook
problem.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from glowtrace.constants import ELECTRON_MASS, SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.errors import GlowtraceError, Problem

FloatArray = NDArray[np.float64]
Number = TypeVar("Number", float, FloatArray)
"""A float, or an array of floats: the result has the shape of the argument."""


def speed_from_voltage(voltage: Number, *, specific_charge: float = SPECIFIC_CHARGE) -> Number:
    """Speed in m/s that a charge at rest reaches through an accelerating voltage.

    Parameters
    ----------
    voltage
        Accelerating voltage in V, 0 or more; float or array.
    specific_charge
        Charge over mass in C/kg, more than 0.

    Raises
    ------
    GlowtraceError
        If a voltage is negative or not a number.

    Examples
    --------
    >>> f"{speed_from_voltage(5e3):.4e}"
    '4.1633e+07'
    """
    ratio = _energy_ratio(voltage, specific_charge)
    speed: Number = SPEED_OF_LIGHT * np.sqrt(ratio * (ratio + 2)) / (1 + ratio)
    return speed


def voltage_from_speed(speed: Number, *, specific_charge: float = SPECIFIC_CHARGE) -> Number:
    """Accelerating voltage in V that gives a charge at rest this speed in m/s.

    Raises
    ------
    GlowtraceError
        If a speed is negative or reaches the speed of light.
    """
    gamma = lorentz_factor(speed)
    # gamma - 1 would cancel at low speed; (gamma beta)^2 / (gamma + 1) is the same number.
    return (gamma * speed) ** 2 / ((gamma + 1) * specific_charge)


def lorentz_factor(speed: Number) -> Number:
    """Lorentz factor gamma = 1 / sqrt(1 - v^2/c^2) of a speed in m/s.

    Raises
    ------
    GlowtraceError
        If a speed is negative or reaches the speed of light.
    """
    if not np.all((np.asarray(speed) >= 0) & (np.asarray(speed) < SPEED_OF_LIGHT)):
        allowed = f"give 0 or more and less than {SPEED_OF_LIGHT:.0f} m/s"
        raise GlowtraceError(Problem("speed", f"{speed} m/s", allowed))
    beta = speed / SPEED_OF_LIGHT
    gamma: Number = 1 / np.sqrt((1 - beta) * (1 + beta))
    return gamma


def lorentz_factor_from_voltage(
    voltage: Number, *, specific_charge: float = SPECIFIC_CHARGE
) -> Number:
    """Lorentz factor 1 + V / V_0 after an accelerating voltage V: how much the mass has grown.

    Raises
    ------
    GlowtraceError
        If a voltage is negative or not a number.
    """
    return 1 + _energy_ratio(voltage, specific_charge)


def momentum_from_voltage(voltage: Number) -> Number:
    """Momentum in kg m/s that an electron at rest gets through an accelerating voltage in V.

    Raises
    ------
    GlowtraceError
        If a voltage is negative or not a number.
    """
    ratio = _energy_ratio(voltage, SPECIFIC_CHARGE)
    momentum: Number = ELECTRON_MASS * SPEED_OF_LIGHT * np.sqrt(ratio * (ratio + 2))
    return momentum


def _energy_ratio(voltage: Number, specific_charge: float) -> Number:
    """Kinetic energy over rest energy."""
    if not np.all((np.asarray(voltage) >= 0) & np.isfinite(voltage)):
        allowed = "give a finite voltage of 0 V or more"
        raise GlowtraceError(Problem("accelerating voltage", f"{voltage} V", allowed))
    if not specific_charge > 0:
        allowed = "give a magnitude above 0 C/kg"
        raise GlowtraceError(Problem("specific charge", f"{specific_charge} C/kg", allowed))
    return voltage * (specific_charge / SPEED_OF_LIGHT**2)
