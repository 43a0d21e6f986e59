"""Deflect the beam with the coil pair to a height."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.demos.goals.deflection import Deflection
from glowtrace.demos.goals.goal import Arrangement, Knob, Part
from glowtrace.demos.kinematics import lorentz_factor, speed_from_voltage


@dataclass(frozen=True)
class CoilDeflection(Deflection):
    """The coil pair alone bends the trace to a height."""

    name: ClassVar[str] = "coil deflection"
    title: ClassVar[str] = "Deflect the beam with the coils"
    says: ClassVar[str] = (
        "The magnetic force is always at right angles to the velocity, so it bends the beam into "
        "an arc of a circle and leaves its speed as it was."
    )
    cautions: ClassVar[tuple[str, ...]] = (
        "The pair's field reaches beyond the middle of the tube and falls off there: the arc is "
        "not quite a circle near the ends.",
        "Keep watches, bank cards, and people with implants away from the coils.",
    )
    needs: ClassVar[tuple[Part, ...]] = ("coil pair",)
    knobs: ClassVar[tuple[Knob, ...]] = ("coil_current", "accelerating_voltage")

    def arrangements(self, bench: Bench) -> tuple[Arrangement, ...]:
        """Give the polarity that pushes the beam to the wanted side."""
        return ({"coil_reversed": self.height < 0},)

    def misfit(self, bench: Bench) -> str | None:
        """Say what the screen does not show, or that the coils work against each other."""
        return super().misfit(bench) or opposing(bench)

    def guess(self, bench: Bench, base: Settings) -> Mapping[Knob, float]:
        """Give the current of the ideal arc through the point: R = (x^2 + y^2) / (2 y)."""
        radius = (self.x**2 + self.height**2) / (2 * abs(self.height))
        return {"coil_current": ideal_coil_current(bench, base.accelerating_voltage, radius)}


def ideal_coil_current(bench: Bench, accelerating_voltage: float, radius: float) -> float:
    """Give the current in A that bends the ideal beam to a radius in m: B = gamma m v / (e R)."""
    speed = speed_from_voltage(accelerating_voltage)
    per_ampere = flux_density_per_ampere(bench)[2]
    return float(lorentz_factor(speed) * speed / (SPECIFIC_CHARGE * radius * per_ampere))


def opposing(bench: Bench) -> str | None:
    """Say that a pair connected against each other has no field in the middle, if so."""
    if bench.coils is not None and bench.coils.kind == "pair" and bench.coils.sense == "opposing":
        return 'the coil pair is in the sense "opposing": its field in the middle is zero'
    return None
