"""e/m straight from one reading by the closed forms, relativity included.

The momentum over charge of an electron is B r in a circle of radius r, and sqrt(2 V / (e/m) +
V^2 / c^2) behind the voltage V; so e/m = 2 V / ((B r)^2 - (V / c)^2). Everything in SI units. For
a quick look, and to see what an effect does to the result; the fits weigh many readings.
"""

from __future__ import annotations

import math

from scipy import optimize

from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.demos.kinematics import lorentz_factor, speed_from_voltage
from glowtrace.demos.null import drift_speed
from glowtrace.demos.trochoid import trochoid
from glowtrace.errors import GlowtraceError, Problem


def specific_charge_from_circle(voltage: float, flux_density: float, radius: float) -> float:
    """e/m in C/kg from a circle of a radius in m, at an accelerating voltage in V and B in T.

    Raises
    ------
    GlowtraceError
        If no electron behind this voltage can have so small a momentum.
    """
    difference = (flux_density * radius) ** 2 - (voltage / SPEED_OF_LIGHT) ** 2
    _require(voltage > 0 and difference > 0, "radius", f"{radius:g} m")
    return 2 * voltage / difference


def specific_charge_from_arc(voltage: float, flux_density: float, x: float, y: float) -> float:
    """e/m in C/kg from one point (x, y) in m of an arc that leaves the origin along x.

    Raises
    ------
    GlowtraceError
        If the point lies on the axis, or as for `specific_charge_from_circle`.
    """
    _require(y != 0, "y", "0 m")
    return specific_charge_from_circle(voltage, flux_density, (x**2 + y**2) / (2 * abs(y)))


def specific_charge_from_focus(
    voltage: float, flux_density: float, length: float, turns: float = 1.0
) -> float:
    """e/m in C/kg from the focus of a narrow beam after a length in m along the field."""
    return specific_charge_from_circle(voltage, flux_density, length / (2 * math.pi * turns))


def specific_charge_from_null(voltage: float, electric_field: float, flux_density: float) -> float:
    """e/m in C/kg from fields in V/m and T that let electrons of this voltage pass straight.

    Raises
    ------
    GlowtraceError
        If the two fields do not oppose each other, or would need the speed of light.
    """
    speed = drift_speed(electric_field, flux_density)
    _require(voltage > 0 and 0 < speed < SPEED_OF_LIGHT, "E / B", f"{speed:g} m/s")
    gamma = lorentz_factor(speed)
    # gamma - 1 without its cancellation at low speed
    return (gamma * speed) ** 2 / ((gamma + 1) * voltage)


def specific_charge_from_turn_back(
    voltage: float, electric_field: float, flux_density: float, depth: float
) -> float:
    """e/m in C/kg from the depth in m of a trochoid (negative for a dip).

    Raises
    ------
    GlowtraceError
        If no e/m within a factor of 10 of the accepted one gives this depth.
    """

    def misfit(log_ratio: float) -> float:
        charge = SPECIFIC_CHARGE * math.exp(log_ratio)
        speed = speed_from_voltage(voltage, specific_charge=charge)
        return trochoid(speed, electric_field, flux_density, specific_charge=charge).depth - depth

    reach = math.log(10.0)
    steps = [reach * n / 20 for n in range(-20, 21)]
    found = [misfit(step) for step in steps]
    crossing = [
        (a, b)
        for a, b, low, high in zip(steps, steps[1:], found, found[1:], strict=False)
        if low * high <= 0
    ]
    _require(bool(crossing), "depth", f"{depth:g} m")
    nearest = min(crossing, key=lambda ends: abs(ends[0] + ends[1]))
    return SPECIFIC_CHARGE * math.exp(float(optimize.brentq(misfit, *nearest, xtol=1e-14)))


def specific_charge_from_null_and_deflection(
    electric_field: float, flux_density: float, length: float, slope: float
) -> float:
    """e/m in C/kg without an accelerating voltage: the null gives the speed, the plates the rest.

    Parameters
    ----------
    electric_field, flux_density
        V/m and T that cancel each other.
    length
        Of the plates, m.
    slope
        dy/dx behind the plates, of either sign, in the electric field alone.
    """
    speed = drift_speed(electric_field, flux_density)
    _require(0 < abs(speed) < SPEED_OF_LIGHT, "E / B", f"{speed:g} m/s")
    bend = math.asinh(abs(slope) * abs(speed) / SPEED_OF_LIGHT) / length
    return bend * lorentz_factor(abs(speed)) * abs(speed) * SPEED_OF_LIGHT / abs(electric_field)


def _require(holds: bool, field: str, given: str) -> None:
    if not holds:
        allowed = "no electron does this; check the readings and their signs"
        raise GlowtraceError(Problem(field, given, allowed))
