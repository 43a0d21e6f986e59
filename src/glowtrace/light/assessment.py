"""Can the trace be seen: luminances, thresholds, and the verdicts for eye and camera."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.light.exposure import CameraMargins, camera_margins
from glowtrace.light.eye import EASE, line_angle, threshold
from glowtrace.light.glow import Glow, make_glow
from glowtrace.light.luminance import Backgrounds, backgrounds, trace_luminance
from glowtrace.light.scene import Scene
from glowtrace.light.trust import DRAWS, MIDDLE, Draws, factor_of
from glowtrace.light.verdict import Verdict, judge

Array = NDArray[np.float64]

_DRAWN: Final = Draws(DRAWS)


@dataclass(frozen=True)
class Stretch:
    """A luminance with the factor within which it stands, in cd/m²."""

    value: float
    factor: float


@dataclass(frozen=True)
class Assessment:
    """What was found.

    Attributes
    ----------
    glow
        The trace that was judged.
    luminance
        Of the middle of the trace.
    brightest, faintest
        Of its brightest and its faintest tenth, with the inputs at their middle, cd/m².
    background
        Room light on the screen, mirror image and heater glow together.
    behind
        The same one by one, with the inputs at their middle.
    needed
        By how much the trace must be brighter than its background for a class to see it, cd/m².
    angle
        Under which the last row sees the trace: diameter of the disc of equal effect, rad.
    seen_share
        Share of the trace's length that is seen, with the inputs at their middle.
    eye, camera
        The verdicts for the middle of the trace.
    in_camera
        The camera's margins one by one, with the inputs at their middle.
    """

    glow: Glow
    luminance: Stretch
    brightest: float
    faintest: float
    background: Stretch
    behind: Backgrounds
    needed: Stretch
    angle: float
    seen_share: float
    eye: Verdict
    camera: Verdict
    in_camera: CameraMargins

    @property
    def is_dark(self) -> bool:
        """Whether there is no trace at all."""
        return self.glow.is_dark

    @property
    def contrast(self) -> float:
        """Luminance of the trace over that of its background; infinite over none."""
        behind = self.background.value
        return self.luminance.value / behind if behind > 0.0 else float("inf")


def assess(prepared: PreparedBench, settings: Settings, scene: Scene) -> Assessment:
    """Judge whether the trace of a bench at its settings is seen in a scene.

    Parameters
    ----------
    prepared, settings
        The bench, and what is set on it. Ratings are not checked here.
    scene
        Layer or gas, room, audience, camera.
    """
    return assess_glow(prepared.bench, settings, scene, make_glow(prepared, settings))


def assess_glow(bench: Bench, settings: Settings, scene: Scene, glow: Glow) -> Assessment:
    """Judge a trace that is known already."""
    middle = middle_density(glow)
    trace = trace_luminance(bench, scene, glow, middle, _DRAWN)
    behind = backgrounds(bench, settings, scene, glow, _DRAWN)
    plain = backgrounds(bench, settings, scene, glow, MIDDLE)
    rows = trace_luminance(bench, scene, glow, glow.ridge)
    return Assessment(
        glow,
        _stretch(trace),
        float(np.quantile(rows, 0.9)) if len(rows) else 0.0,
        float(np.quantile(rows, 0.1)) if len(rows) else 0.0,
        _stretch(behind.total),
        plain,
        _stretch(needed_by_eye(scene, glow, behind, _DRAWN)),
        line_angle(glow.width, glow.length, scene.away),
        _seen_share(glow, rows, needed_by_eye(scene, glow, plain, MIDDLE)),
        judge(trace / needed_by_eye(scene, glow, behind, _DRAWN)),
        judge(_in_camera(scene, glow, trace, behind, _DRAWN).least),
        _in_camera(scene, glow, trace_luminance(bench, scene, glow, middle), plain, MIDDLE),
    )


def eye_margins(bench: Bench, settings: Settings, scene: Scene, glow: Glow) -> Array:
    """Give how many times what a class needs there is of the trace's middle, for drawn inputs."""
    trace = trace_luminance(bench, scene, glow, middle_density(glow), _DRAWN)
    behind = backgrounds(bench, settings, scene, glow, _DRAWN)
    return trace / needed_by_eye(scene, glow, behind, _DRAWN)


def middle_density(glow: Glow) -> float:
    """Density on the ridge of half of the trace's rows or more."""
    return 0.0 if glow.is_dark else float(np.median(glow.ridge))


def needed_by_eye(scene: Scene, glow: Glow, behind: Backgrounds, draws: Draws) -> Array:
    """Give the luminance in cd/m² over the background with which a class sees the trace."""
    seen = threshold(behind.adapted_to, line_angle(glow.width, glow.length, scene.away))
    return seen * draws.around("eye", 1.0) * draws.around("ease", EASE)


def _in_camera(
    scene: Scene, glow: Glow, trace: Array, behind: Backgrounds, draws: Draws
) -> CameraMargins:
    full_well = draws.around("sensor", scene.camera.full_well)
    return camera_margins(scene.camera, trace, behind.total, glow.width, full_well)


def _seen_share(glow: Glow, rows: Array, needed: Array) -> float:
    return float(np.mean(rows > needed)) if not glow.is_dark else 0.0


def _stretch(values: Array) -> Stretch:
    return Stretch(float(np.median(values)), factor_of(values))
