"""The whole answer: verdicts, what to change, which exposure suits, what is uncertain."""

from __future__ import annotations

from dataclasses import dataclass

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import Assessment, assess_glow
from glowtrace.light.camera_advice import suggest_exposure
from glowtrace.light.changes import Change, brightest_room, suggest_changes
from glowtrace.light.doubts import Doubt, doubts
from glowtrace.light.glow import Glow
from glowtrace.light.ripple import trace_flicker
from glowtrace.light.scene import Camera, Scene
from glowtrace.light.verdict import Verdict
from glowtrace.light.ways import DARKEST, Case


@dataclass(frozen=True)
class LightAnswer:
    """What was found for a trace in a scene.

    Attributes
    ----------
    bench, settings, scene
        What was asked about.
    found
        Luminances and verdicts.
    exposure, exposed
        What suits the trace, and what is found then.
    changes, doubts
        What to change, and what makes the answer uncertain.
    in_the_dark
        The verdict for the eye if the room were blacked out.
    brightest_room
        Illuminance in lx up to which the trace is surely seen; None where in no room.
    flicker
        Share by which the trace itself flickers on camera, peak from mean.
    """

    bench: Bench
    settings: Settings
    scene: Scene
    found: Assessment
    exposure: Camera
    exposed: Assessment
    changes: tuple[Change, ...]
    doubts: tuple[Doubt, ...]
    in_the_dark: Verdict
    brightest_room: float | None
    flicker: float


def answer_light(bench: Bench, settings: Settings, scene: Scene, glow: Glow) -> LightAnswer:
    """Give the whole answer for a trace that is flown already.

    Parameters
    ----------
    bench, settings, scene
        As for `glowtrace.light.assessment.assess`.
    glow
        From `glowtrace.light.glow.make_glow`.
    """
    found = assess_glow(bench, settings, scene, glow)
    exposure = suggest_exposure(scene.room, scene.camera, found.brightest, found.background.value)
    then = scene.model_copy(update={"camera": exposure})
    blackout = min(scene.room.illuminance, DARKEST)
    return LightAnswer(
        bench,
        settings,
        scene,
        found,
        exposure,
        assess_glow(bench, settings, then, glow),
        suggest_changes(bench, settings, scene, glow),
        () if glow.is_dark else doubts(bench, settings, scene, glow),
        Case(bench, settings, scene, glow).within(room__illuminance=blackout).judged(),
        brightest_room(bench, settings, scene, glow),
        trace_flicker(bench, settings, scene, glow, scene.camera.shutter),
    )
