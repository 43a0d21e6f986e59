"""What the tube itself can do: soft X-rays, and a heater beyond its rating."""

from __future__ import annotations

from collections.abc import Iterator

from glowtrace.bench.layout import electrode_voltages
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
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
    note = "from cathode to the most positive electrode, ripple counted"
    yield compare(
        "soft X-rays, lower level", voltage, LOWER_X_RAY_LEVEL, "attention",
        "Below the lower of the two published levels. National law decides.",
        "Soft X-rays arise where the beam strikes. Keep a distance, run it no longer than you "
        "show it, and ask whether the dose rate at 0.1 m has been measured. National law decides.",
        note=note,
    )  # fmt: skip
    yield compare(
        "soft X-rays, upper level", voltage, UPPER_X_RAY_LEVEL, "stop",
        "The text asks for the dose rate too: 1 µSv/h at 0.1 m at most. National law decides.",
        "Do not switch on: beyond both published levels. Ask the person responsible for radiation "
        "protection.",
        note=note,
    )  # fmt: skip


def heater_line(bench: Bench) -> SafetyLine:
    """Compare the highest voltage that the heater's supply can give with the heater's rating."""
    rated, supply = bench.gun.heater_voltage, bench.supplies.heater
    limit = Limit(rated * (1.0 + HEATER_TOLERANCE), "V", HEATER_SOURCE)
    if supply is None:
        return unknown(
            "heater", limit, "unknown: no heater supply told",
            "Set the heater's supply to the rated voltage with a meter before it is connected.",
        )  # fmt: skip
    insulated = (
        " The heater stands at the cathode's potential: its supply must be insulated for the "
        "accelerating voltage."
    )
    return compare(
        "heater", supply.max_voltage, limit, "attention",
        "The supply cannot overload the heater. Let it warm up before the voltage is raised."
        + insulated,
        "The supply can be turned past the rating: set it with a meter before it is connected."
        + insulated,
        note="at most from the heater's supply",
    )  # fmt: skip
