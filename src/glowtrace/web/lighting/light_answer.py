"""All that the page shows of one scene, computed together, beside the page."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import Assessment, assess_glow
from glowtrace.light.camera_advice import suggest_exposure
from glowtrace.light.changes import Change, brightest_room, suggest_changes
from glowtrace.light.doubts import Doubt, doubts
from glowtrace.light.glow import Glow
from glowtrace.light.rendering import light_of
from glowtrace.light.ripple import trace_flicker
from glowtrace.light.scene import Camera, Scene
from glowtrace.light.verdict import Verdict
from glowtrace.report.light_picture import Seen, light_picture


@dataclass(frozen=True)
class LightAnswer:
    """What was found.

    Attributes
    ----------
    found
        Luminances and verdicts.
    exposure, exposed
        What suits the trace, and the camera's verdict then.
    changes, doubts
        What to change, and what makes the answer uncertain.
    brightest_room
        Illuminance in lx up to which the trace is surely seen; None where in no room.
    flicker
        Share by which the trace itself flickers on camera, peak from mean.
    picture
        Address of the rendering: a JPEG with its content in it.
    """

    found: Assessment
    exposure: Camera
    exposed: Verdict
    changes: tuple[Change, ...]
    doubts: tuple[Doubt, ...]
    brightest_room: float | None
    flicker: float
    picture: str


def answer_light(
    bench: Bench, settings: Settings, scene: Scene, glow: Glow, seen: Seen
) -> LightAnswer:
    """Judge a trace that is known already, and render it as wanted."""
    found = assess_glow(bench, settings, scene, glow)
    light = light_of(bench, settings, scene, glow)
    content = light_picture(bench, glow, light, scene.camera, seen, kind="jpeg")
    exposure = suggest_exposure(scene.room, scene.camera, found.brightest, found.background.value)
    exposed = assess_glow(bench, settings, scene.model_copy(update={"camera": exposure}), glow)
    return LightAnswer(
        found,
        exposure,
        exposed.camera,
        suggest_changes(bench, settings, scene, glow),
        () if glow.is_dark else doubts(bench, settings, scene, glow),
        brightest_room(bench, settings, scene, glow),
        trace_flicker(bench, settings, scene, glow, scene.camera.shutter),
        f"data:image/jpeg;base64,{b64encode(content).decode('ascii')}",
    )
