"""Full circle in the fine-beam bulb."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar, Self

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model, Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.screen_plane import Shows
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import ASTRAY, Classifier
from glowtrace.demos.goals import trace
from glowtrace.demos.goals.coil_deflection import ideal_coil_current, opposing
from glowtrace.demos.goals.goal import (
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
from glowtrace.demos.goals.turning import first_turning_point
from glowtrace.demos.kinematics import FloatArray
from glowtrace.units import format_quantity


@dataclass(frozen=True)
class FullCircle(Goal):
    """The beam bent into a full circle of a diameter."""

    diameter: float
    """Wanted distance in m between the aperture and the beam's far point."""
    tolerance: float = 0.001
    """Distance in m from the wanted diameter that still counts."""

    name: ClassVar[str] = "full circle"
    title: ClassVar[str] = "Bend the beam into a full circle"
    says: ClassVar[str] = (
        "The magnetic force is at right angles to the velocity all the way round: it turns the "
        "beam without changing its speed, so in an even field the path is a circle of radius "
        "mv/(eB)."
    )
    cautions: ClassVar[tuple[str, ...]] = (
        "If the beam leaves the aperture at an angle to the plane, the circle becomes a helix: "
        "turn the bulb until it closes.",
        "The gas needs a moment to light up; raise the accelerating voltage slowly and no further "
        "than needed, since it wears the cathode.",
    )
    views: ClassVar[tuple[Shows, ...]] = ("path",)
    needs: ClassVar[tuple[Part, ...]] = ("coil pair",)
    knobs: ClassVar[tuple[Knob, ...]] = ("coil_current", "accelerating_voltage")
    measures: ClassVar[tuple[Measure, ...]] = (Measure("diameter", "m"),)
    units: ClassVar[Mapping[str, str]] = {"diameter": "m", "tolerance": "m"}

    def __post_init__(self) -> None:
        require("diameter", self.diameter, "m", 0.0, "give more than 0 m")
        require("tolerance", self.tolerance, "m", 0.0, "give more than 0 m")

    @classmethod
    def for_bench(cls, bench: Bench) -> Self:
        """Ask for two thirds of the height that the picture has on its larger side."""
        bottom, top = bench.plane.heights
        pitch = bench.screen.grid_pitch
        return cls(rounded(max(top, -bottom) * 2 / 3, pitch), rounded(0.1 * pitch, 0.0005))

    def misfit(self, bench: Bench) -> str | None:
        """Say that the picture is too low for the circle, if so."""
        bottom, top = bench.plane.heights
        room = max(top, -bottom)
        if self.diameter > room:
            return (
                f"the picture has {format_quantity(room, 'm')} above or below the gun, too little "
                f"for a circle of {format_quantity(self.diameter, 'm')}"
            )
        return opposing(bench)

    def easier(self, share: float) -> Self:
        """Give a wider circle, which needs less current."""
        return replace(self, diameter=self.diameter / share)

    def aims(self) -> FloatArray:
        """Give the wanted diameter."""
        return array(self.diameter)

    def scales(self) -> FloatArray:
        """Give the tolerance."""
        return array(self.tolerance)

    def arrangements(self, bench: Bench) -> tuple[Arrangement, ...]:
        """Give the polarities that bend the beam to where the circle has room."""
        bottom, top = bench.plane.heights
        sides = ((top, False), (-bottom, True))
        return tuple(
            {"coil_reversed": reversed_} for room, reversed_ in sides if room >= self.diameter
        )

    def guess(self, bench: Bench, base: Settings) -> Mapping[Knob, float]:
        """Give the current of the ideal circle."""
        current = ideal_coil_current(bench, base.accelerating_voltage, self.diameter / 2)
        return {"coil_current": current}

    def measure(
        self, prepared: PreparedBench, settings: Settings, model: Model = "bench"
    ) -> FloatArray:
        """Give the height in m, without sign, at which the axis is level again."""
        path = prepared.fly(settings, model=model, through="walls", longest=2.5 * self.diameter)
        return array(abs(path.far_height()))

    def is_met(
        self,
        prepared: PreparedBench,
        settings: Settings,
        model: Model = "bench",
        electrons: int = 48,
    ) -> Check:
        """Check the diameter, that the circle closes, and that it stays off glass and frame."""
        picture = prepared.picture(settings, electrons=electrons, model=model)
        diameter = abs(prepared.line_turn(settings, model=model)) if _turns(picture) else math.nan
        figures = (
            Figure("diameter", diameter, "m",
                   self.diameter - self.tolerance, self.diameter + self.tolerance),
            Figure("share back at the gun",
                   trace.share(picture, "anode", "still flying"), "1", low=1 - ASTRAY),
            Figure("room left in the picture", _room(prepared.bench, picture), "m", low=0.0),
        )  # fmt: skip
        kind = Classifier(prepared, model).of_picture(picture)
        return Check(figures, (diameter,), kind, ("full circle",))


def _turns(picture: Picture) -> bool:
    """Tell whether the glow runs level again somewhere."""
    line = picture.mean_trace
    return len(line.u) > 2 and first_turning_point(line.u, line.v) is not None


def _room(bench: Bench, picture: Picture) -> float:
    """Give the smallest distance in m of the circle's middle line from the picture's frame."""
    plane, line = bench.plane, picture.mean_trace
    if not plane.glows or len(line.u) < 3:
        return math.nan
    first_turn = np.arange(len(line.u)) < _one_turn(line.u, line.v)
    x, y = line.u[first_turn], line.v[first_turn]
    u0, v0, u1, v1 = plane.rectangle
    sides = (x - u0, u1 - x, y - v0, v1 - y)
    return float(min(side.min() for side in sides))


def _one_turn(x: FloatArray, y: FloatArray) -> int:
    """Give how many points of a line make up its first turn."""
    steps = np.unwrap(np.arctan2(np.diff(y), np.diff(x)))
    beyond = np.flatnonzero(np.abs(steps - steps[0]) >= 2 * np.pi)
    return int(beyond[0]) if len(beyond) else len(x)
