"""The answer with its picture, computed together beside the page."""

from __future__ import annotations

from base64 import b64encode

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.light.answer import LightAnswer, answer_light
from glowtrace.light.glow import Glow
from glowtrace.light.rendering import light_of
from glowtrace.light.scene import Scene
from glowtrace.report.light_picture import Seen, light_picture


def answer_and_render(
    bench: Bench, settings: Settings, scene: Scene, glow: Glow, seen: Seen
) -> tuple[LightAnswer, str]:
    """Give the answer, and the address of the rendering: a JPEG with its content in it."""
    light = light_of(bench, settings, scene, glow)
    content = light_picture(bench, glow, light, scene.camera, seen, kind="jpeg")
    picture = f"data:image/jpeg;base64,{b64encode(content).decode('ascii')}"
    return answer_light(bench, settings, scene, glow), picture
