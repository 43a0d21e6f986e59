"""The settings with which a bench first shows a clear picture.

Taken from its own textbook formulas, so that any bench opens with something to see: plates lift
the beam a little; a coil pair without plates bends it into a circle; a long coil brings it
together once on its way to the end face.
"""

from __future__ import annotations

import math

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.model import Bench, CoilPair
from glowtrace.bench.ratings import knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.constants import ELEMENTARY_CHARGE
from glowtrace.demos.kinematics import momentum_from_voltage

PLATE_SHARE = 0.3
"""Of the accelerating voltage, on the plates."""


def opening_settings(bench: Bench) -> Settings:
    """Give settings within the bench's ratings that show its demonstration."""
    ranges = knob_ranges(bench)
    low, high, _ = ranges["accelerating_voltage"]
    accelerating = _round_figure(low + 0.58 * (high - low))
    plate = coil = 0.0
    if bench.plates is not None:
        plate = min(ranges["plate_voltage"][1], _round_figure(PLATE_SHARE * accelerating))
    elif bench.coils is not None:
        current = _demonstration_current(bench, accelerating)
        coil = min(ranges["coil_current"][1], _round_figure(current))
    return Settings(accelerating_voltage=accelerating, plate_voltage=plate, coil_current=coil)


def _demonstration_current(bench: Bench, voltage: float) -> float:
    """Give the current for a circle that fits the screen, or for one whole turn of a helix."""
    per_ampere = math.hypot(*flux_density_per_ampere(bench))
    if per_ampere == 0.0:
        return 0.0
    momentum = momentum_from_voltage(voltage) / ELEMENTARY_CHARGE  # p/e in T m
    plane = bench.plane
    if plane.is_spot:
        return 2 * math.pi * momentum / plane.x_to / per_ampere
    is_pair = isinstance(bench.coils, CoilPair)
    low, high = plane.heights
    return momentum / ((high - low) / 4) / per_ampere if is_pair else 0.0


def _round_figure(value: float) -> float:
    """Round to two significant figures, as a person would set a knob."""
    return float(f"{value:.1e}")
