"""What the tube itself can do: soft X-rays, and a heater beyond its rating."""

from __future__ import annotations

from collections.abc import Iterator

from glowtrace.bench.layout import electrode_voltages
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.findings import Quantity, finding
from glowtrace.safety.limits import (
    HEATER_SOURCE,
    HEATER_TOLERANCE,
    LOWER_X_RAY_LEVEL,
    UPPER_X_RAY_LEVEL,
)
from glowtrace.safety.lines import Limit, SafetyLine, compare, unknown


def greatest_electron_voltage(bench: Bench, settings: Settings) -> float:
    """Voltage in V through which an electron can fall at most before it strikes something.

    From the cathode to the most positive electrode, which is a plate where one stands above the
    anode, at the top of the supplies' ripple. Energies of X-rays in eV reach this number.
    """
    supplies = bench.supplies
    peak = settings.accelerating_voltage * (1.0 + supplies.accelerating.ripple / 2)
    if bench.plates is None:
        return peak
    highest = max(0.0, *electrode_voltages(settings))
    ripple = supplies.plates.ripple if supplies.plates else 0.0
    return peak + highest * (1.0 + ripple / 2)


def x_ray_lines(bench: Bench, settings: Settings) -> Iterator[SafetyLine]:
    """Give a line for each of the two published levels; which one applies is for national law."""
    voltage = greatest_electron_voltage(bench, settings)
    told = finding("safety.value.x_rays", value=Quantity(voltage, "V"))
    yield compare(
        finding("safety.topic.x_rays_lower"),
        voltage,
        LOWER_X_RAY_LEVEL,
        "attention",
        (finding("safety.advice.x_rays_below"),),
        (finding("safety.advice.x_rays"),),
        told=told,
        counts_at=True,  # one law begins at this level, another above it
    )
    yield compare(
        finding("safety.topic.x_rays_upper"),
        voltage,
        UPPER_X_RAY_LEVEL,
        "stop",
        (finding("safety.advice.dose"),),
        (finding("safety.advice.x_rays_beyond"),),
        told=told,
    )


def heater_line(bench: Bench) -> SafetyLine:
    """Compare the highest voltage that the heater's supply can give with the heater's rating."""
    rated, supply = bench.gun.heater_voltage, bench.supplies.heater
    limit = Limit(rated * (1.0 + HEATER_TOLERANCE), "V", HEATER_SOURCE)
    topic = finding("safety.topic.heater")
    if supply is None:
        what = finding("safety.value.no_heater_supply")
        return unknown(topic, limit, what, (finding("safety.advice.set_heater"),))
    insulated = finding("safety.advice.heater_insulated")
    return compare(
        topic,
        supply.max_voltage,
        limit,
        "attention",
        (finding("safety.advice.heater_kept"), insulated),
        (finding("safety.advice.heater_passed"), insulated),
        told=finding("safety.value.heater", value=Quantity(supply.max_voltage, "V")),
    )
