"""The formulas of a textbook before relativity: what a learner works with. SI throughout.

e/m is the electron's; the plates' field is V/d between sharp edges, the coils' field is uniform.
`glowtrace.demos` has the same exactly; the answers tell both where they differ.
"""

from __future__ import annotations

import math

from glowtrace.constants import ELECTRON_MASS, ELEMENTARY_CHARGE, SPECIFIC_CHARGE


def speed(voltage: float) -> float:
    """Speed √(2 e V / m) in m/s behind an accelerating voltage in V."""
    return math.sqrt(2 * SPECIFIC_CHARGE * voltage)


def plate_field(voltage: float, gap: float) -> float:
    """Field V/d in V/m."""
    return voltage / gap


def force(field: float) -> float:
    """Force e E in N on an electron in a field in V/m."""
    return ELEMENTARY_CHARGE * field


def acceleration(field: float) -> float:
    """Acceleration e E / m in m/s²."""
    return force(field) / ELECTRON_MASS


def height(x: float, length: float, gap: float, plate: float, accelerating: float) -> float:
    """Height in m at x (from where the plates begin): the parabola, then its tangent.

    Between the plates y = V_p x² / (4 d V_a): charge and mass cancel.

    Parameters
    ----------
    x, length, gap
        Distance, length of the plates and gap, m.
    plate, accelerating
        Voltages, V.
    """
    within = min(x, length)
    bend = plate / (4 * gap * accelerating)
    return bend * within**2 + 2 * bend * within * (x - within)


def radius(voltage: float, flux_density: float) -> float:
    """Radius m v / (e B) in m of the circle after an accelerating voltage."""
    return speed(voltage) / (SPECIFIC_CHARGE * flux_density)


def null_flux_density(accelerating: float, field: float) -> float:
    """Flux density E/v in T at which a beam passes straight."""
    return field / speed(accelerating)


def depth(entry_speed: float, drift: float, flux_density: float) -> float:
    """Depth 2 m (v − u) / (e B) in m of a turn-back with drift speed u = E/B."""
    return 2 * (entry_speed - drift) / (SPECIFIC_CHARGE * flux_density)


def pitch(drift: float, flux_density: float) -> float:
    """Advance 2 π m u / (e B) in m in one turn."""
    return 2 * math.pi * drift / (SPECIFIC_CHARGE * flux_density)


def focus_flux_density(voltage: float, distance: float) -> float:
    """Flux density 2 π m v / (e L) in T along the beam that focuses it at a distance L."""
    return 2 * math.pi * speed(voltage) / (SPECIFIC_CHARGE * distance)


def charge_over_mass(voltage: float, flux_density: float, circle_radius: float) -> float:
    """e/m = 2 V / (B r)² in C/kg from the readings of a circle."""
    return 2 * voltage / (flux_density * circle_radius) ** 2


def charge_over_mass_by_focus(voltage: float, flux_density: float, distance: float) -> float:
    """e/m = 8 π² V / (B L)² in C/kg from the field that focuses a beam after one turn."""
    return 8 * math.pi**2 * voltage / (flux_density * distance) ** 2


def time_of_turn(flux_density: float) -> float:
    """Time 2 π m / (e B) in s of one turn across a field in T."""
    return 2 * math.pi / (SPECIFIC_CHARGE * flux_density)
