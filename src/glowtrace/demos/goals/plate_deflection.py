"""Deflect the beam with the plates to a height."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from scipy.optimize import brentq

from glowtrace.bench.model import Bench, Plates
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.arrangement import plate_arrangements
from glowtrace.demos.goals.deflection import Deflection
from glowtrace.demos.goals.goal import Arrangement, Knob, Part
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.demos.parabola import height_beyond_plates


@dataclass(frozen=True)
class PlateDeflection(Deflection):
    """The plates alone lift or lower the trace to a height."""

    name: ClassVar[str] = "plate deflection"
    title: ClassVar[str] = "Deflect the beam with the plates"
    says: ClassVar[str] = (
        "Between the plates the electric force is across the beam and the same everywhere, so the "
        "trace is a parabola there and a straight line after it. The beam bends towards the "
        "positive plate."
    )
    cautions: ClassVar[tuple[str, ...]] = (
        "With one plate at the anode's potential the beam changes its speed on entry; the "
        "textbook's parabola then fits worse than with the plates symmetric about the anode.",
        "Switch the high voltage off and let it fall before changing a lead.",
    )
    needs: ClassVar[tuple[Part, ...]] = ("plates",)
    knobs: ClassVar[tuple[Knob, ...]] = ("plate_voltage", "accelerating_voltage")

    def arrangements(self, bench: Bench) -> tuple[Arrangement, ...]:
        """Give the ties that push the beam to the wanted side."""
        return tuple(plate_arrangements(bench, is_up=self.height > 0))

    def guess(self, bench: Bench, base: Settings) -> Mapping[Knob, float]:
        """Give the plate voltage of the ideal parabola."""
        voltage = base.accelerating_voltage
        return {"plate_voltage": ideal_plate_voltage(bench, voltage, self.x, self.height)}


def ideal_plate_voltage(
    bench: Bench, accelerating_voltage: float, x: float, height: float
) -> float:
    """Give the voltage in V, without sign, with which the ideal plates deflect to a height at x.

    The textbook's y = V_p s (s/2 + D) / (2 V_a d) for s metres between the plates and D metres
    after them, made exact in relativity by root-finding on the closed form of
    `glowtrace.demos.parabola`. 0 where x lies before the plates.
    """
    plates = bench.plates
    if not isinstance(plates, Plates):
        return 0.0
    start = max(plates.start, 0.0)
    length = plates.start + plates.length - start
    distance = x - start
    if distance <= 0 or length <= 0:
        return 0.0
    gap, speed, wanted = plates.gap, speed_from_voltage(accelerating_voltage), abs(height)
    within = min(distance, length)
    slow = 2 * accelerating_voltage * gap * wanted / (within * (distance - within / 2))

    def excess(voltage: float) -> float:
        return float(height_beyond_plates(distance, length, speed, -voltage / gap)) - wanted

    return float(brentq(excess, 0.5 * slow, 2.0 * slow, xtol=1e-12 * slow, rtol=1e-14))
