"""In which order to switch on and off, and the cautions that hold whatever is set."""

from __future__ import annotations

from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.findings import Finding, Quantity, finding
from glowtrace.safety.limits import HAZARDOUS_VOLTAGE
from glowtrace.safety.outputs import discharge_time, high_voltage_outputs

CAUTIONS: Final = (
    finding("safety.caution.high_voltage"),
    finding("safety.caution.stored_charge"),
    finding("safety.caution.glass"),
    finding("safety.caution.hot"),
    finding("safety.caution.x_rays"),
    finding("safety.caution.stray_field"),
    finding("safety.caution.ratings"),
    finding("safety.caution.interlocks"),
    finding("safety.caution.local_rules"),
)
"""Always shown."""


def switch_on_steps(bench: Bench, settings: Settings) -> tuple[Finding, ...]:
    """Give the order of switching on: heater first, voltages from zero, coils last."""
    volts = Quantity(settings.accelerating_voltage, "V")
    steps = [
        finding("safety.on.leads"),
        finding("safety.on.zero"),
        finding("safety.on.heater", voltage=Quantity(bench.gun.heater_voltage, "V")),
        finding("safety.on.accelerating", voltage=volts),
    ]
    if bench.plates and settings.plate_voltage > 0:
        steps.append(finding("safety.on.plates", voltage=Quantity(settings.plate_voltage, "V")))
    if bench.coils and settings.coil_current > 0:
        steps.append(finding("safety.on.coils", current=Quantity(settings.coil_current, "A")))
    return tuple(steps)


def switch_off_steps(bench: Bench, settings: Settings) -> tuple[Finding, ...]:
    """Give the order of switching off, with the discharge before anything is touched."""
    steps = []
    if bench.coils:
        steps.append(finding("safety.off.coils"))
    if bench.plates:
        steps.append(finding("safety.off.plates"))
    steps += [
        finding("safety.off.accelerating"),
        finding("safety.off.heater"),
        finding("safety.off.unplug"),
        _wait(bench, settings),
        finding("safety.off.discharge" if bench.plates else "safety.off.discharge_gun"),
        finding("safety.off.touch"),
    ]
    return tuple(steps)


def _wait(bench: Bench, settings: Settings) -> Finding:
    outputs = high_voltage_outputs(bench, settings)
    times = {out.kind: discharge_time(out, HAZARDOUS_VOLTAGE.value) for out in outputs}
    silent = [kind for kind, time in times.items() if time is None]
    if silent:
        return finding(f"safety.off.wait_{'both' if len(silent) > 1 else silent[0]}")
    longest = max(time for time in times.values() if time is not None)
    return finding("safety.off.wait", time=Quantity(longest, "s"), safe=HAZARDOUS_VOLTAGE.quantity)
