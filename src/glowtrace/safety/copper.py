"""The copper of a winding: its mass and heat capacity from resistance, turns and mean turn length.

Resistance rho l / A and mass d l A of a wire of length l give A = rho l / R, so m = d rho l^2 / R.
The bench's resistance is taken to hold at 20 °C.

References
----------
Resistivity, density and temperature coefficient of annealed copper at 20 °C: IEC 60028 (from
memory; check the current edition). Specific heat capacity 385 J/(kg K): any table of the elements
(from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Final

from glowtrace.bench.layout import bench_windings
from glowtrace.bench.model import Bench

REFERENCE_TEMPERATURE: Final = 293.15
"""K at which resistances are told."""
RESISTIVITY: Final = 1.7241e-8
"""ohm m at 20 °C."""
TEMPERATURE_COEFFICIENT: Final = 0.00393
"""1/K, of the resistance at 20 °C."""
DENSITY: Final = 8890.0
"""kg/m^3."""
SPECIFIC_HEAT: Final = 385.0
"""J/(kg K)."""


@dataclass(frozen=True)
class Copper:
    """The wire of all windings in series.

    Attributes
    ----------
    wire_length
        m.
    wire_section
        Of the bare wire, m^2.
    mass
        kg.
    heat_capacity
        J/K; that of insulation and former is left out, so that the coil warms too fast.
    surface
        From which heat can go, m^2: outer sides and end faces; the inner sides lie on a former.
    fill
        Share of the winding's section that is copper; more than 0.907 is impossible with round
        wire, so resistance, turns or sizes are then wrong.
    """

    wire_length: float
    wire_section: float
    mass: float
    heat_capacity: float
    surface: float
    fill: float


def coil_copper(bench: Bench) -> Copper | None:
    """Estimate the copper of a bench's coils from their resistance and sizes; None without any."""
    coils = bench.coils
    if coils is None:
        return None
    windings = bench_windings(bench)
    length = sum(2 * pi * each.mean_radius * abs(each.turns) for each in windings)
    section = RESISTIVITY * length / coils.resistance
    mass = DENSITY * length * section
    surface = sum(
        2 * pi * (w.mean_radius + w.radial_depth / 2) * w.axial_length
        + 4 * pi * w.mean_radius * w.radial_depth
        for w in windings
    )
    room = sum(w.axial_length * w.radial_depth / abs(w.turns) for w in windings) / len(windings)
    return Copper(length, section, mass, SPECIFIC_HEAT * mass, surface, section / room)


def resistance_at(resistance: float, temperature: float) -> float:
    """Resistance in ohm of copper at a temperature in K, from that at 20 °C; linear.

    Holds from about -100 °C to 200 °C.
    """
    return resistance * (1.0 + TEMPERATURE_COEFFICIENT * (temperature - REFERENCE_TEMPERATURE))
