"""Focus in the axial coil: a spreading beam comes together after whole turns of its helices."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar, Self

import numpy as np

from glowtrace.bench.electron import AXIS, Launch
from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model, Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.screen_plane import Shows
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import ASTRAY, FOCUS, Classifier, spot_sizes
from glowtrace.demos.goals import trace
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
)
from glowtrace.demos.helix import focus_flux_density
from glowtrace.demos.kinematics import FloatArray, speed_from_voltage
from glowtrace.errors import GlowtraceError, Problem

_NARROW = 2e-4
"""Angle in rad of the ray whose turns are counted: its cosine is 1 to 2e-8."""
_STEP = 0.02
"""Share of the coil current over which the spot is compared with its neighbours."""


@dataclass(frozen=True)
class HelixFocus(Goal):
    """The beam focused on the end face after whole turns."""

    turns: int
    """Whole turns from the aperture to the face, 1 or more."""
    spot: float
    """Largest diameter in m of the spot that still counts as a focus: two standard deviations,
    as everywhere."""

    name: ClassVar[str] = "helix focus"
    title: ClassVar[str] = "Focus the beam with the axial coil"
    says: ClassVar[str] = (
        "Along the field nothing happens to an electron, across it it goes round in a circle, so "
        "its path is a helix. All electrons of one speed need the same time for a turn, whatever "
        "their angle: those that left one point meet again after each whole turn."
    )
    cautions: ClassVar[tuple[str, ...]] = (
        "Each further turn takes that much more current: watch the coil's rating and its warmth.",
        "A focused spot wears the phosphor: keep it short or keep the beam weak.",
    )
    views: ClassVar[tuple[Shows, ...]] = ("spot",)
    needs: ClassVar[tuple[Part, ...]] = ("long coil",)
    knobs: ClassVar[tuple[Knob, ...]] = ("coil_current", "accelerating_voltage")
    measures: ClassVar[tuple[Measure, ...]] = (Measure("turns", "1"),)
    units: ClassVar[Mapping[str, str]] = {"turns": "1", "spot": "m"}

    def __post_init__(self) -> None:
        require("turns", self.turns, "1", 0.5, "give 1 or more whole turns")
        if self.turns != round(self.turns):
            allowed = "give a whole number of turns"
            raise GlowtraceError(Problem("turns", f"{self.turns}", allowed))
        require("spot", self.spot, "m", 0.0, "give more than 0 m")

    @classmethod
    def for_bench(cls, bench: Bench) -> Self:
        """Ask for one turn and a spot not much larger than the aperture."""
        return cls(turns=1, spot=FOCUS * bench.gun.aperture_height)

    def easier(self, share: float) -> Self | None:
        """Give fewer turns; None below one."""
        turns = math.floor(share * self.turns)
        return replace(self, turns=turns) if turns >= 1 else None

    def aims(self) -> FloatArray:
        """Give the wanted turns."""
        return array(float(self.turns))

    def scales(self) -> FloatArray:
        """Give a hundredth of a turn."""
        return array(0.01)

    def arrangements(self, bench: Bench) -> tuple[Arrangement, ...]:
        """Give one polarity: the other winds the helices the other way and looks the same."""
        return ({"coil_reversed": False},)

    def guess(self, bench: Bench, base: Settings) -> Mapping[Knob, float]:
        """Give the current of the ideal focus: B = 2 pi n gamma m v / (e L)."""
        distance = bench.plane.shown_x[1]
        speed = speed_from_voltage(base.accelerating_voltage)
        flux = focus_flux_density(speed, distance, turns=int(self.turns))
        return {"coil_current": flux / flux_density_per_ampere(bench)[0]}

    def measure(
        self, prepared: PreparedBench, settings: Settings, model: Model = "bench"
    ) -> FloatArray:
        """Give the turns made at the face by a ray close to the axis.

        In the frame that turns with half the gyration about the axis (Larmor's frame) the ray
        swings through the axis in a plane; the phase of this swing counts the turns, whole at
        every focus, also where the field is not the same all along.
        """
        plane = prepared.plane
        if not plane.is_spot:
            return array(math.nan)
        middle, ray = (
            prepared.fly(settings, launch, model=model, through="walls", tolerance=1e-12)
            for launch in (AXIS, Launch(up=_NARROW))
        )
        return array(prepared.turns(ray, middle, settings, plane.x_to, model=model))

    def is_met(
        self,
        prepared: PreparedBench,
        settings: Settings,
        model: Model = "bench",
        electrons: int = ELECTRONS,
    ) -> Check:
        """Check the size of the spot, and that it is the focus of these turns."""
        picture = prepared.picture(settings, electrons=electrons, model=model)
        classifier = Classifier(prepared, model)
        made = classifier.turns_at(settings)
        figures = (
            Figure("spot", _size(picture), "m", high=self.spot),
            Figure("turns", made, "1", self.turns - 0.5, self.turns + 0.5),
            Figure("share on the screen", trace.share(picture, "screen"), "1", low=1 - ASTRAY),
        )
        turns = float(self.measure(prepared, settings, model)[0])
        return Check(figures, (turns,), classifier.of_picture(picture))

    def bundle_measure(
        self, prepared: PreparedBench, settings: Settings, model: Model = "bench"
    ) -> FloatArray:
        """Give the turns that the current stands for, where the smallest spot has whole ones."""
        spots = []
        for factor in (1 - _STEP, 1.0, 1 + _STEP):
            changed = settings.model_copy(update={"coil_current": factor * settings.coil_current})
            spots.append(_size(prepared.picture(changed, electrons=ELECTRONS, model=model)))
        return array(self.turns / _best_factor(*spots))


def _size(picture: Picture) -> float:
    """Give the spot's diameter in m; NaN where there is none."""
    spot = picture.landings
    if len(spot) < 2:
        return math.nan
    return float(spot_sizes(spot[None], np.ones((1, len(spot)), dtype=np.bool_))[0])


def _best_factor(weaker: float, here: float, stronger: float) -> float:
    """Give the factor on the current at which the spot is smallest: its square is a parabola."""
    a, b, c = weaker**2, here**2, stronger**2
    bend = a - 2 * b + c
    if not bend > 0:
        return math.nan
    return 1.0 + _STEP * float(np.clip((a - c) / (2 * bend), -3.0, 3.0))
