"""What the outputs of the supplies can do: voltage, charge, energy, current, discharge."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from glowtrace.bench.model import Bench, Supply
from glowtrace.bench.settings import Settings
from glowtrace.findings import Finding, Quantity, finding
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
from glowtrace.safety.lines import Advice, SafetyLine, compare, unknown

Kind = Literal["accelerating", "plate"]
"""Of a supply."""
_NEVER_BARE: Final = finding("safety.advice.never_bare")
_MEASURE: Final = finding("safety.advice.measure")
_UNKNOWN: Final = finding("safety.value.unknown")


@dataclass(frozen=True)
class Output:
    """A supply's output at the voltage in V that is set."""

    kind: Kind
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
    outputs = [Output("accelerating", supplies.accelerating, settings.accelerating_voltage)]
    if bench.plates and supplies.plates and settings.plate_source == "own supply":
        outputs.append(Output("plate", supplies.plates, settings.plate_voltage))
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
        is_gun = output.kind == "accelerating"
        shared = (finding("safety.advice.at_cathode"),) if is_gun else ()
        topic = finding(f"safety.topic.voltage.{output.kind}")
        yield _voltage_line(topic, output.voltage, (*shared, _NEVER_BARE))
    if bench.coils:
        voltage = settings.coil_current * bench.coils.resistance
        yield _voltage_line(finding("safety.topic.voltage.coils"), voltage, (_NEVER_BARE,))
    for output in outputs:
        yield _charge_line(output)
        yield from _energy_line(output)
        yield from _capacitance_line(output)
        yield _current_line(output)
        yield _discharge_line(output)


def _voltage_line(topic: Finding, voltage: float, advice: Advice) -> SafetyLine:
    within = (finding("safety.advice.not_live"),)
    return compare(topic, voltage, HAZARDOUS_VOLTAGE, "attention", within, advice)


def _charge_line(output: Output) -> SafetyLine:
    topic = finding(f"safety.topic.charge.{output.kind}")
    charge = output.charge
    if charge is None:
        return unknown(topic, CHARGE, _UNKNOWN, _ask(output))
    return compare(
        topic,
        charge,
        CHARGE,
        "attention",
        _turned_up(output, CHARGE.value),
        (finding("safety.advice.shock"), _MEASURE),
        told=finding(
            "safety.value.charge_at",
            charge=Quantity(charge, "C"),
            energy=Quantity(charge * output.voltage / 2, "J"),
            voltage=Quantity(output.voltage, "V"),
        ),
    )


def _energy_line(output: Output) -> Iterator[SafetyLine]:
    """Compare the energy, where it is limited: up to 15 kV the charge alone decides."""
    if output.voltage <= CHARGE_VOLTAGE:
        return
    topic = finding(f"safety.topic.energy.{output.kind}")
    energy = output.energy
    if energy is None:
        yield unknown(topic, ENERGY, _UNKNOWN, _ask(output))
        return
    at = Quantity(output.voltage, "V")
    yield compare(
        topic,
        energy,
        ENERGY,
        "attention",
        (finding("safety.advice.energy_applies"), _MEASURE),
        (finding("safety.advice.much_energy_applies"), _MEASURE),
        told=finding("safety.value.at", value=Quantity(energy, "J"), voltage=at),
    )


def _capacitance_line(output: Output) -> Iterator[SafetyLine]:
    """Compare the capacitance, where a text limits it at the voltage set."""
    low, high = CAPACITANCE_VOLTAGES
    capacitance = output.supply.output_capacitance
    if capacitance is None or not low < output.voltage <= high:
        return
    yield compare(
        finding(f"safety.topic.capacitance.{output.kind}"),
        capacitance,
        CAPACITANCE,
        "attention",
        (_MEASURE,),
        (finding("safety.advice.large_capacitance"), _MEASURE),
    )


def _current_line(output: Output) -> SafetyLine:
    return compare(
        finding(f"safety.topic.current.{output.kind}"),
        output.supply.max_current,
        CURRENT,
        "attention",
        (finding("safety.advice.still_shocks"), _NEVER_BARE),
        (finding("safety.advice.can_kill"), _NEVER_BARE),
    )


def _discharge_line(output: Output) -> SafetyLine:
    topic = finding(f"safety.topic.discharge.{output.kind}")
    time = discharge_time(output, HAZARDOUS_VOLTAGE.value)
    if time is None:
        return unknown(topic, DISCHARGE_TIME, _UNKNOWN, _ask(output))
    return compare(
        topic,
        time,
        DISCHARGE_TIME,
        "attention",
        (finding("safety.advice.wait_longer"), _MEASURE),
        (finding("safety.advice.wait"), _MEASURE),
        told=finding(
            "safety.value.bleeder",
            value=Quantity(time, "s"),
            voltage=Quantity(output.voltage, "V"),
            safe=HAZARDOUS_VOLTAGE.quantity,
        ),
    )


def _turned_up(output: Output, limit: float) -> Advice:
    """Say what the output holds with its knob at the top."""
    most = _times(output.supply.output_capacitance, output.supply.max_voltage)
    if most is None:
        return (_MEASURE,)
    kind = "beyond" if most > limit else "within"
    told = finding(
        f"safety.advice.turned_up_{kind}",
        voltage=Quantity(output.supply.max_voltage, "V"),
        charge=Quantity(most, "C"),
    )
    return told, _MEASURE


def _ask(output: Output) -> Advice:
    return finding(f"safety.advice.ask.{output.kind}"), _MEASURE


def _times(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one * other
