"""Turn-back: in crossed fields the beam dips, turns and comes back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar, Self

import numpy as np
from scipy.optimize import brentq

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
from glowtrace.demos.goals.turning import Course, course
from glowtrace.demos.kinematics import FloatArray, speed_from_voltage
from glowtrace.demos.lines import SEEN, judged_end, picture_line
from glowtrace.demos.trochoid import trochoid
from glowtrace.units import format_quantity

_TURNS_SHORT = 0.05
"""Periods by which the trace may fall short of what was asked for."""
_OTHER_DEPTHS = (0.5, 0.65, 0.8, 1.0, 1.25, 1.5, 2.0)
_OTHER_TURNS = (0.65, 0.75, 0.85, 1.0)
_DEPTH_OFF = 0.2
"""Share by which the depth may be off."""


@dataclass(frozen=True)
class TurnBack(Goal):
    """The beam pulled off the axis by the coils, turned round by the plates, and back again."""

    depth: float
    """Wanted distance in m of the turning point from the axis."""
    turns: float
    """Periods to be seen, more than a half: one half ends at the turning point, one at the top."""

    name: ClassVar[str] = "turn-back"
    title: ClassVar[str] = "Let the beam dip, turn and come back"
    says: ClassVar[str] = (
        "The coils pull the beam off the axis harder than the plates hold it. Moving against the "
        "electric force it loses speed, and with the speed the magnetic force falls below the "
        "electric one, so it turns back. At the turning point its vertical velocity is zero and "
        "its horizontal one is 2E/B − v₀ (for speeds far below that of light): it does not stop, "
        "and the magnetic force does not vanish, except in the one case E/B = v₀/2, the cusp."
    )
    cautions: ClassVar[tuple[str, ...]] = (
        "If the beam meets a plate, current flows to it and the plate warms: turn the coil current "
        "down first.",
        "On a sheet that the beam grazes only the way forwards is seen: with E/B below v₀/2 the "
        "beam flies backwards at the turning point, and there the sheet stays dark.",
    )
    views: ClassVar[tuple[Shows, ...]] = ("line", "path")
    needs: ClassVar[tuple[Part, ...]] = ("plates", "coil pair")
    knobs: ClassVar[tuple[Knob, ...]] = ("coil_current", "plate_voltage", "accelerating_voltage")
    measures: ClassVar[tuple[Measure, ...]] = (Measure("turns", "1"), Measure("depth", "m"))
    units: ClassVar[Mapping[str, str]] = {"depth": "m", "turns": "1"}

    def __post_init__(self) -> None:
        require("depth", self.depth, "m", 0.0, "give more than 0 m")
        require("turns", self.turns, "1", 0.5, "give more than 0.5, where the beam turns")

    @classmethod
    def for_bench(cls, bench: Bench) -> Self:
        """Ask for most of a period, half as deep as there is room."""
        return cls(depth=rounded(0.5 * trace.room(bench), 0.001), turns=0.85)

    def misfit(self, bench: Bench) -> str | None:
        """Say that the depth has no room, if so."""
        bottom, top = bench.plane.heights
        rooms = [(max(top, -bottom), "the screen reaches")]
        if bench.plates is not None:
            half = bench.plates.gap / 2 + abs(bench.plates.height_offset)
            rooms.append((half, "the plates stand"))
        room, what = min(rooms)
        if self.depth >= room:
            return (
                f"{what} {format_quantity(room, 'm')} from the axis, too near for a depth of "
                f"{format_quantity(self.depth, 'm')}"
            )
        return opposing(bench)

    def easier(self, share: float) -> Self:
        """Give less of a period, which needs weaker fields."""
        return replace(self, turns=0.5 + share * (self.turns - 0.5))

    def alternatives(self) -> tuple[Self, ...]:
        """Give turn-backs of other depths and turns, the most like this one first."""
        around = [
            (depth, turns)
            for depth in _OTHER_DEPTHS
            for turns in (self.turns, *_OTHER_TURNS)
            if (depth, turns) != (1.0, self.turns)
        ]
        around.sort(key=lambda each: abs(math.log(each[0])) + abs(each[1] - self.turns))
        return tuple(replace(self, depth=d * self.depth, turns=t) for d, t in around)

    def aims(self) -> FloatArray:
        """Give the wanted turns and depth."""
        return array(self.turns, self.depth)

    def scales(self) -> FloatArray:
        """Give a twentieth of a period, and a tenth of the depth."""
        return array(0.05, 0.1 * self.depth)

    def arrangements(self, bench: Bench) -> tuple[Arrangement, ...]:
        """Give both polarities with every tie."""
        return tuple(crossed_arrangements(bench))

    def guess(self, bench: Bench, base: Settings) -> Mapping[Knob, float]:
        """Give the knobs of the ideal trochoid of this depth whose pitch fits the length.

        In the textbook's limit depth / pitch = (v0 - v_d) / (pi v_d), which gives the drift v_d,
        and the depth then gives B; both are made exact by root-finding on
        `glowtrace.demos.trochoid`.
        """
        speed = speed_from_voltage(base.accelerating_voltage)
        pitch = judged_end(bench) / self.turns
        slow = speed / (1 + np.pi * self.depth / pitch)

        def wrong_pitch(drift: float) -> float:
            flux = _flux_for_depth(speed, drift, self.depth)
            return trochoid(speed, -drift * flux, -flux).pitch - pitch

        drift = float(brentq(wrong_pitch, 0.8 * slow, min(1.2 * slow, 0.999 * speed), rtol=1e-14))
        flux = _flux_for_depth(speed, drift, self.depth)
        gap = bench.plates.gap if bench.plates else 0.0
        return {
            "plate_voltage": drift * flux * gap,
            "coil_current": flux / flux_density_per_ampere(bench)[2],
        }

    def measure(
        self, prepared: PreparedBench, settings: Settings, model: Model = "bench"
    ) -> FloatArray:
        """Give the periods that the axis goes through up to the end of the plates, and its depth.

        NaN where it does not come so far forwards.
        """
        far = judged_end(prepared.bench)
        path = prepared.fly(
            settings, drawing(prepared.bench, far), model=model, through="walls"
        ).until(far)
        if path is None:
            return array(math.nan, math.nan)
        found = course(path.position[:, 0], path.position[:, 1])
        return array(found.turns, found.depth)

    def is_met(
        self,
        prepared: PreparedBench,
        settings: Settings,
        model: Model = "bench",
        electrons: int = ELECTRONS,
    ) -> Check:
        """Check that the trace turns so that one sees it, and touches nothing."""
        bench, far = prepared.bench, judged_end(prepared.bench)
        picture = prepared.picture(settings, electrons=electrons, model=model)
        line = picture_line(bench, picture, far)
        found = Course(*4 * (math.nan,))
        comeback = width = reach = slack = math.nan
        if line is not None:
            found = course(line.x[0], line.y[0])
            comeback, width = float(line.comeback[0]), float(line.width[0])
            reach, slack = float(line.reach[0]), float(line.slack[0])
        bottom, top = bench.plane.heights
        room = min(top, -bottom) - (0.0 if line is None else width / 2)
        figures = (
            Figure("turns", found.turns, "1", low=self.turns - _TURNS_SHORT),
            Figure("depth", found.depth, "m",
                   (1 - _DEPTH_OFF) * self.depth, min(room, (1 + _DEPTH_OFF) * self.depth)),
            Figure("x of the turning point", found.turning_x, "m", high=far),
            Figure("comes back by", comeback, "m", low=SEEN * width),
            Figure("trace width", width, "m"),
            Figure("length of the trace", reach, "m", low=far - slack),
            Figure("share on the plates",
                   trace.share(picture, "upper plate", "lower plate"), "1", high=ASTRAY),
        )  # fmt: skip
        kind = Classifier(prepared, model).of_picture(picture)
        return Check(figures, (found.turns, found.depth), kind, ("turns back",))


def _flux_for_depth(speed: float, drift: float, depth: float) -> float:
    """Give |B| in T that gives a trochoid of this drift (m/s) a depth in m: depth goes as 1/B."""
    unit = trochoid(speed, drift, 1.0)
    return abs(unit.depth) / depth
