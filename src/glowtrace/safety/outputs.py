"""What the outputs of the supplies can do: voltage, charge, energy, current, discharge."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from glowtrace.bench.model import Bench, Supply
from glowtrace.bench.settings import Settings
from glowtrace.safety.limits import (
    CAPACITANCE,
    CAPACITANCE_VOLTAGES,
    CHARGE,
    CHARGE_VOLTAGE,
    CURRENT,
    DISCHARGE_TIME,
    ENERGY,
    HAZARDOUS_VOLTAGE,
)
from glowtrace.safety.lines import SafetyLine, compare, unknown, written

UNKNOWN = "unknown: treat as charged"
_NEVER_BARE = (
    "Shrouded plugs and leads made for the voltage; nothing bare within reach; change no lead "
    "before the supply is off and discharged."
)
_MEASURE = "Measure that the voltage is gone before you touch a lead."


@dataclass(frozen=True)
class Output:
    """A supply's output at the voltage in V that is set."""

    name: str
    supply: Supply
    voltage: float

    @property
    def charge(self) -> float | None:
        """C V in C; None where the capacitance is unknown."""
        return _times(self.supply.output_capacitance, self.voltage)

    @property
    def energy(self) -> float | None:
        """C V^2 / 2 in J; None where the capacitance is unknown."""
        return _times(self.supply.output_capacitance, self.voltage**2 / 2)


def high_voltage_outputs(bench: Bench, settings: Settings) -> tuple[Output, ...]:
    """Give the outputs that feed the gun and the plates at these settings."""
    supplies = bench.supplies
    outputs = [Output("accelerating supply", supplies.accelerating, settings.accelerating_voltage)]
    if bench.plates and supplies.plates and settings.plate_source == "own supply":
        outputs.append(Output("plate supply", supplies.plates, settings.plate_voltage))
    return tuple(outputs)


def discharge_time(output: Output, safe_voltage: float) -> float | None:
    """Time in s in which the bleeder alone brings a switched-off output down to a voltage in V.

    R C ln(V / V_safe); 0 where the output is already below it, None where R or C is unknown.
    """
    if output.voltage <= safe_voltage:
        return 0.0
    constant = _times(output.supply.output_capacitance, output.supply.bleeder_resistance)
    return None if constant is None else constant * math.log(output.voltage / safe_voltage)


def output_lines(bench: Bench, settings: Settings) -> Iterator[SafetyLine]:
    """Give the lines of every circuit: voltage first, then what a high-voltage output holds."""
    outputs = high_voltage_outputs(bench, settings)
    for output in outputs:
        shared = (
            "The cathode, the heater and the heater's supply stand at this voltage from the anode. "
            if output.name == "accelerating supply"
            else ""
        )
        yield _voltage_line(f"voltage of the {output.name}", output.voltage, shared + _NEVER_BARE)
    if bench.coils:
        voltage = settings.coil_current * bench.coils.resistance
        yield _voltage_line("voltage of the coils", voltage, _NEVER_BARE)
    for output in outputs:
        yield _charge_line(output)
        yield _energy_line(output)
        yield from _capacitance_line(output)
        yield _current_line(output)
        yield _discharge_line(output)


def _voltage_line(topic: str, voltage: float, advice: str) -> SafetyLine:
    within = "Below the level of hazardous-live parts. Sound insulation all the same."
    return compare(topic, voltage, HAZARDOUS_VOLTAGE, "attention", within, advice)


def _charge_line(output: Output) -> SafetyLine:
    topic = f"charge stored by the {output.name}"
    charge = output.charge
    if charge is None:
        return unknown(topic, CHARGE, UNKNOWN, _ask(output))
    return compare(
        topic, charge, CHARGE, "attention", _turned_up(output, CHARGE.value),
        f"Its shock alone is beyond the limit. {_MEASURE}",
        note=f"at {written(output.voltage, 'V')}",
    )  # fmt: skip


def _energy_line(output: Output) -> SafetyLine:
    topic = f"energy stored by the {output.name}"
    energy = output.energy
    if energy is None:
        return unknown(topic, ENERGY, UNKNOWN, _ask(output))
    applies = output.voltage > CHARGE_VOLTAGE
    kind = "applies above 15 kV, so here" if applies else "is for comparison: the charge counts"
    return compare(
        topic, energy, ENERGY, "attention", f"This limit {kind}. {_MEASURE}",
        f"More than a shock should have; this limit {kind}. {_MEASURE}",
        note=f"at {written(output.voltage, 'V')}",
    )  # fmt: skip


def _capacitance_line(output: Output) -> Iterator[SafetyLine]:
    """Compare the capacitance, where a text limits it at the voltage set."""
    low, high = CAPACITANCE_VOLTAGES
    capacitance = output.supply.output_capacitance
    if capacitance is None or not low < output.voltage <= high:
        return
    yield compare(
        f"capacitance of the {output.name}", capacitance, CAPACITANCE, "attention", _MEASURE,
        f"Large for its voltage: it holds a dangerous charge after switching off. {_MEASURE}",
    )  # fmt: skip


def _current_line(output: Output) -> SafetyLine:
    return compare(
        f"short-circuit current of the {output.name}", output.supply.max_current, CURRENT,
        "attention",
        "The highest current that the supply is rated for; it still gives a shock, and the charge "
        "stored comes on top. " + _NEVER_BARE,
        "The highest current that the supply is rated for; it can kill: treat it like the mains. "
        + _NEVER_BARE,
    )  # fmt: skip


def _discharge_line(output: Output) -> SafetyLine:
    topic = f"time in which the {output.name} discharges"
    time = discharge_time(output, HAZARDOUS_VOLTAGE.value)
    if time is None:
        return unknown(topic, DISCHARGE_TIME, UNKNOWN, _ask(output))
    return compare(
        topic, time, DISCHARGE_TIME, "attention",
        f"Wait longer than this all the same: a bleeder can fail. {_MEASURE}",
        f"Wait, with a margin. {_MEASURE}",
        note=f"from {written(output.voltage, 'V')} to {HAZARDOUS_VOLTAGE}, by the bleeder alone",
    )  # fmt: skip


def _turned_up(output: Output, limit: float) -> str:
    """Say what the output holds with its knob at the top."""
    most = _times(output.supply.output_capacitance, output.supply.max_voltage)
    if most is None:
        return _MEASURE
    at = f"at {written(output.supply.max_voltage, 'V')}, its highest, {written(most, 'C')}"
    return f"{'Beyond the limit' if most > limit else 'Within it'} {at}. {_MEASURE}"


def _ask(output: Output) -> str:
    return (
        f"Output capacitance or bleeder of the {output.name} is not told: look in its papers, add "
        "the leads, and enter output_capacitance and bleeder_resistance. Until then treat it as "
        f"charged after switching off. {_MEASURE}"
    )


def _times(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one * other
