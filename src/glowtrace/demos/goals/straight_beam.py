"""Null: plates and coils pull against each other and the beam stays straight."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar, Self

from glowtrace.bench.electron import drawing
from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.screen_plane import Shows
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import ASTRAY, Classifier
from glowtrace.demos.goals import trace
from glowtrace.demos.goals.arrangement import crossed_arrangements
from glowtrace.demos.goals.coil_deflection import opposing
from glowtrace.demos.goals.goal import (
    ELECTRONS,
    Arrangement,
    Check,
    Figure,
    Goal,
    Knob,
    Measure,
    Part,
    array,
    require,
    rounded,
)
from glowtrace.demos.goals.plate_deflection import ideal_plate_voltage
from glowtrace.demos.kinematics import FloatArray, speed_from_voltage
from glowtrace.demos.lines import SEEN, picture_line
from glowtrace.demos.null import null_flux_density
from glowtrace.units import format_quantity

_WORTH_SEEING = 0.5
"""Share of the wanted deflection by the plates alone below which a null shows nothing."""


@dataclass(frozen=True)
class StraightBeam(Goal):
    """The beam straight to within the trace's width, though each field alone would bend it."""

    length: float
    """From the anode to where the beam is to be straight, m."""
    plates_alone: float
    """Deflection there in m that the plates alone are to make, without sign."""

    name: ClassVar[str] = "null"
    title: ClassVar[str] = "Straighten the beam in crossed fields"
    says: ClassVar[str] = (
        "The electric force does not depend on the speed, the magnetic force grows with it: "
        "crossed fields let one speed pass straight, whatever the charge and mass of the "
        "particles. Where both fields act over the same stretch, that speed is E/B."
    )
    cautions: ClassVar[tuple[str, ...]] = (
        "Real coils reach further than real plates: what cancels are the two deflections along the "
        "way, not the forces at every place, and the trace keeps a slight wave.",
        "With one plate at the anode's potential the speed between the plates is not that of the "
        "accelerating voltage.",
    )
    views: ClassVar[tuple[Shows, ...]] = ("line", "path")
    needs: ClassVar[tuple[Part, ...]] = ("plates", "coil pair")
    knobs: ClassVar[tuple[Knob, ...]] = ("coil_current", "plate_voltage", "accelerating_voltage")
    measures: ClassVar[tuple[Measure, ...]] = (
        Measure("mean deviation", "m"),
        Measure("deflection by the plates alone", "m"),
    )
    units: ClassVar[Mapping[str, str]] = {"length": "m", "plates_alone": "m"}

    def __post_init__(self) -> None:
        require("length", self.length, "m", 0.0, "give more than 0 m")
        require("plates_alone", self.plates_alone, "m", 0.0, "give more than 0 m")

    @classmethod
    def for_bench(cls, bench: Bench) -> Self:
        """Ask for a straight beam as far as the screen and the plates go."""
        low, high = bench.plane.shown_x
        if bench.plates is not None:
            high = max(low + 1e-3, min(high, bench.plates.start + bench.plates.length))
        return cls(length=high, plates_alone=rounded(0.5 * trace.room(bench), 0.001))

    def misfit(self, bench: Bench) -> str | None:
        """Say that the screen ends before the length, if so."""
        high = bench.plane.shown_x[1]
        if self.length > high + 1e-9:
            far, given = format_quantity(high, "m"), format_quantity(self.length, "m")
            return f"the screen shows the beam up to x = {far}, not to {given}"
        return opposing(bench)

    def easier(self, share: float) -> Self:
        """Give a null of weaker fields."""
        return replace(self, plates_alone=share * self.plates_alone)

    def aims(self) -> FloatArray:
        """Give the mean deviation zero, and the wanted deflection by the plates alone."""
        return array(0.0, self.plates_alone)

    def scales(self) -> FloatArray:
        """Give half a millimetre, and a tenth of the deflection by the plates alone."""
        return array(0.0005, 0.1 * self.plates_alone)

    def arrangements(self, bench: Bench) -> tuple[Arrangement, ...]:
        """Give both polarities with every tie."""
        return tuple(crossed_arrangements(bench))

    def guess(self, bench: Bench, base: Settings) -> Mapping[Knob, float]:
        """Give the plates' voltage from the parabola and the current from v = E/B."""
        voltage = base.accelerating_voltage
        across = ideal_plate_voltage(bench, voltage, self.length, self.plates_alone)
        gap = bench.plates.gap if bench.plates else math.inf
        flux = null_flux_density(speed_from_voltage(voltage), across / gap)
        per_ampere = flux_density_per_ampere(bench)[2]
        return {"plate_voltage": across, "coil_current": float(flux / per_ampere)}

    def measure(
        self, prepared: PreparedBench, settings: Settings, model: Model = "bench"
    ) -> FloatArray:
        """Give the mean of the axis's highest and lowest deviation, and the plates' own work.

        Both in m. At the answer the axis strays as far up as down.
        """
        path = prepared.fly(
            settings, drawing(prepared.bench, self.length), model=model, through="walls"
        ).until(self.length)
        deviation = math.nan
        if path is not None:
            x, y, _ = path.position.T
            shown = x >= prepared.bench.plane.shown_x[0]
            shown[-1] = True
            deviation = float(y[shown].max() + y[shown].min()) / 2
        return array(deviation, self._plates_alone(prepared, settings, model))

    def is_met(
        self,
        prepared: PreparedBench,
        settings: Settings,
        model: Model = "bench",
        electrons: int = ELECTRONS,
    ) -> Check:
        """Check that the trace's middle strays by no more than the trace is wide."""
        bench = prepared.bench
        picture = prepared.picture(settings, electrons=electrons, model=model)
        line = picture_line(bench, picture, self.length)
        alone = self._plates_alone(prepared, settings, model)
        strays = deviation = wide = reach = slack = math.nan
        if line is not None:
            y = line.y[0]
            strays, wide = float(line.strays[0]), float(line.width[0])
            deviation = float(y.max() + y.min()) / 2
            reach, slack = float(line.reach[0]), float(line.slack[0])
        figures = (
            Figure("largest deviation in trace widths", strays, "1", high=SEEN),
            Figure("trace width", wide, "m"),
            Figure("length of the trace", reach, "m", low=self.length - slack),
            Figure("deflection by the plates alone", alone, "m",
                   low=_WORTH_SEEING * self.plates_alone),
            Figure("share on the plates",
                   trace.share(picture, "upper plate", "lower plate"), "1", high=ASTRAY),
        )  # fmt: skip
        kind = Classifier(prepared, model, self.length).of_picture(picture)
        return Check(figures, (deviation, alone), kind, ("null",))

    def _plates_alone(self, prepared: PreparedBench, settings: Settings, model: Model) -> float:
        without = settings.model_copy(update={"coil_current": 0.0})
        return abs(prepared.line_height(without, self.length, model=model, through="walls"))
