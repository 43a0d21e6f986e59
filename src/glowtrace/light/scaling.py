"""All voltages and currents turned together, so that a picture keeps its shape, and how far."""

from __future__ import annotations

import math
from typing import Final

from glowtrace.bench.layout import electrode_voltages
from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.settings import Settings

X_RAYS_FROM: Final = 5e3
"""V from cathode to the most positive electrode above which nothing is suggested: where a law on
soft X-rays begins (Germany, radiation protection act, § 5 (37), at 5 keV; read in its text)."""


def scale_settings(settings: Settings, factor: float) -> Settings:
    """Give settings with all voltages times a factor and the coil current times its root.

    Slow electrons then fly the same paths: the picture stays.
    """
    return settings.model_copy(update={
        "accelerating_voltage": settings.accelerating_voltage * factor,
        "plate_voltage": settings.plate_voltage * factor,
        "coil_current": settings.coil_current * math.sqrt(factor),
    })  # fmt: skip


def greatest_voltage(bench: Bench, settings: Settings) -> float:
    """Voltage in V from the cathode to the most positive electrode, at the top of the ripple."""
    peak = settings.accelerating_voltage * (1.0 + bench.supplies.accelerating.ripple / 2.0)
    if bench.plates is None:
        return peak
    ripple = bench.supplies.plates.ripple if bench.supplies.plates else 0.0
    return peak + max(0.0, *electrode_voltages(settings)) * (1.0 + ripple / 2.0)


def voltage_reach(bench: Bench, settings: Settings, farthest: float) -> float:
    """Give the factor on all voltages, towards the farthest, at which the first limit is met.

    Limits are the ratings of the bench and, upwards, `X_RAYS_FROM`. Settings that pass a rating
    already give 1.
    """

    def is_allowed(factor: float) -> bool:
        wanted = scale_settings(settings, factor)
        return not check_settings(bench, wanted) and (
            factor <= 1.0 or greatest_voltage(bench, wanted) <= X_RAYS_FROM
        )

    if not is_allowed(1.0):
        return 1.0
    near, far = 0.0, math.log(farthest)
    for _ in range(24):
        middle = (near + far) / 2.0
        near, far = (middle, far) if is_allowed(math.exp(middle)) else (near, middle)
    return math.exp(near)
