"""How a shot is exposed: as its trace wants it, but seldom changed from shot to shot."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import Assessment, assess_glow
from glowtrace.light.camera_advice import F_NUMBERS, nearest_step, suggest_exposure
from glowtrace.light.exposure import Reason, exposed_for
from glowtrace.light.glow import Glow
from glowtrace.light.scene import ROOMS, Camera, Scene
from glowtrace.light.verdict import Verdict
from glowtrace.shots.framing import Framing
from glowtrace.shots.lens import Lens

SAME: Final = 2 / 3
"""Steps of exposure by which two shots may differ and still be exposed alike."""
THIS: Final = "this"
_A_SECOND: Final = (50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 2000)
TIMES: Final = tuple(1.0 / each for each in _A_SECOND)
"""Exposure times in s of a film without a diaphragm."""


@dataclass(frozen=True)
class Exposing:
    """The exposure of a shot.

    Attributes
    ----------
    camera
        As it is set: the f-number is that on the lens.
    is_kept
        Whether it is that of the shot before.
    verdict, reason
        Whether the trace is on the film in this room, and what limits it most.
    brightest_room
        Name of the brightest room in which it surely is: `THIS`, a darker one, or none.
    """

    camera: Camera
    is_kept: bool
    verdict: Verdict
    reason: Reason
    brightest_room: str


def expose(
    bench: Bench,
    settings: Settings,
    scene: Scene,
    glow: Glow,
    lens: Lens,
    framing: Framing,
    before: Camera | None,
) -> Exposing | None:
    """Give the exposure of a trace that a camera takes; None of no trace.

    Parameters
    ----------
    bench, settings, scene, glow
        As for `glowtrace.light.assessment.assess_glow`; of the scene's camera the frame rate and
        the sensor's noise count.
    lens, framing
        What takes it, and from where.
    before
        The exposure of the shot before, which is kept where it suits.
    """
    if glow.is_dark:
        return None
    closer = framing.working_number / lens.aperture

    def within(exposure: Camera, room: float) -> Scene:
        there = {
            "aperture": exposure.aperture * closer,
            "away": framing.away,
            "field_of_view": framing.angle,
            "pixels": min(lens.recorded, lens.pixels / framing.zoom),
        }
        light = scene.room.model_copy(update={"illuminance": room})
        return scene.model_copy(update={"room": light, "camera": exposure.model_copy(update=there)})

    def suited(room: float) -> Camera:
        there = within(scene.camera.model_copy(update={"aperture": lens.aperture}), room)
        found = assess_glow(bench, settings, there, glow)
        camera = suggest_exposure(there.room, there.camera, found.brightest, found.background.value)
        return _on_the_lens(camera, camera.aperture / closer, lens)

    def judged(exposure: Camera, room: float) -> Assessment:
        return assess_glow(bench, settings, within(exposure, room), glow)

    here = scene.room.illuminance
    camera = suited(here)
    steps = math.inf
    if before is not None:
        steps = abs(math.log2(exposed_for(camera) / exposed_for(before)))
    is_kept = before is not None and steps <= SAME
    if is_kept and before is not None:
        camera = before
    rooms = [(name, lux) for name, (lux, _, _) in ROOMS.items() if lux < here]
    found = judged(camera, here)
    surely = "" if found.camera.word != "surely" else THIS
    for name, lux in sorted(rooms, key=lambda each: -each[1]):
        if surely:
            break
        if judged(suited(lux), lux).camera.word == "surely":
            surely = name
    return Exposing(camera, is_kept, found.camera, found.in_camera.reason, surely)


def _on_the_lens(camera: Camera, number: float, lens: Lens) -> Camera:
    """Set the f-number on the lens; what it cannot stop down, a shorter time does."""
    stops = [each for each in F_NUMBERS if lens.aperture < each <= lens.stops_to]
    set_on_it = nearest_step((lens.aperture, *stops), number)
    shutter = camera.shutter
    if number > 1.2 * set_on_it:
        shutter = nearest_step(TIMES, shutter * (set_on_it / number) ** 2)
    return camera.model_copy(update={"aperture": set_on_it, "shutter": shutter})
