"""In which order to switch on and off, and the cautions that hold whatever is set."""

from __future__ import annotations

from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.safety.limits import HAZARDOUS_VOLTAGE
from glowtrace.safety.lines import written
from glowtrace.safety.outputs import discharge_time, high_voltage_outputs

CAUTIONS: Final = (
    "High voltage: kilovolts can kill. Leads and plugs shrouded and made for the voltage, nothing "
    "bare, supplies off before anything is connected or changed.",
    "Stored charge: a supply, a lead and the tube itself stay charged after switching off. "
    "Discharge and measure before touching.",
    "Evacuated glass can implode: no knocks, no scratches, no strain on pins or necks; eye "
    "protection and a screen where local rules ask for them.",
    "Hot glass and heater: the neck stays hot after use; let it cool before it is moved.",
    "Soft X-rays arise where fast electrons strike: no more voltage, beam current and time than "
    "the picture needs.",
    "Stray magnetic field: people with pacemakers or other implants keep their distance.",
    "Stay at or below every rating of tube, plates, coils and supplies.",
    "Interlocks, earth leads, covers and bleeders stay as they are and in use.",
    "Local rules and the person responsible decide; this check replaces neither.",
)
"""Always shown."""


def switch_on_steps(bench: Bench, settings: Settings) -> tuple[str, ...]:
    """Give the order of switching on: heater first, voltages from zero, coils last."""
    volts = written(settings.accelerating_voltage, "V")
    steps = [
        "With every supply off and unplugged: check each lead against the wiring table, the "
        "earth lead first.",
        "Turn every knob to zero.",
        f"Heater on, at its rated {written(bench.gun.heater_voltage, 'V')}; wait a minute or two "
        "until it glows evenly.",
        f"Accelerating voltage slowly from zero to {volts}. No beam or any flicker: back to zero.",
    ]
    if bench.plates and settings.plate_voltage > 0:
        steps.append(f"Plate voltage slowly from zero to {written(settings.plate_voltage, 'V')}.")
    if bench.coils and settings.coil_current > 0:
        steps.append(f"Coil current slowly from zero to {written(settings.coil_current, 'A')}.")
    return tuple(steps)


def switch_off_steps(bench: Bench, settings: Settings) -> tuple[str, ...]:
    """Give the order of switching off, with the discharge before anything is touched."""
    steps = []
    if bench.coils:
        steps.append("Coil current slowly to zero: a coil that is cut off makes a spark.")
    if bench.plates:
        steps.append("Plate voltage to zero.")
    steps += [
        "Accelerating voltage to zero, then this supply off.",
        "Heater off.",
        "Unplug the supplies.",
        _wait(bench, settings),
        "Discharge before touching: with a discharge stick made for the voltage, its earth lead "
        "connected first, touch the anode, the cathode and the plates as local rules say, then "
        "measure that no voltage is left.",
        "Only then touch or change a lead. Let glass and coils cool before they are moved.",
    ]
    return tuple(steps)


def _wait(bench: Bench, settings: Settings) -> str:
    outputs = high_voltage_outputs(bench, settings)
    times = {out.name: discharge_time(out, HAZARDOUS_VOLTAGE.value) for out in outputs}
    silent = [name for name, time in times.items() if time is None]
    if silent:
        return (
            f"Wait until the meters show zero. How fast the {' and the '.join(silent)} discharges "
            "is unknown: treat it as charged."
        )
    longest = max(time for time in times.values() if time is not None)
    return (
        f"Wait until the meters show zero, and well beyond {written(longest, 's')}, the time that "
        f"the bleeders need down to {HAZARDOUS_VOLTAGE}."
    )
