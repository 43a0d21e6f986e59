"""Laws of light for every scene: more helps or hurts the right way, numbers stay sound."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from glowtrace.bench.checking import change
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import assess_glow
from glowtrace.light.camera_advice import suggest_exposure
from glowtrace.light.exposure import clips_at
from glowtrace.light.glow import Glow, plain_glow, scaled
from glowtrace.light.rendering import as_by_camera, as_in_room, in_the_dark, light_of, room_look
from glowtrace.light.scene import Camera, Room, Scene

FEW = settings(max_examples=25)
GREEN = (92, 240, 196)


def decades(low: float, high: float) -> st.SearchStrategy[float]:
    # The exponential of a logarithm may pass the end by its rounding.
    return st.floats(np.log(low), np.log(high)).map(
        lambda log: float(np.clip(np.exp(log), low, high))
    )


SCENES = st.builds(
    lambda lux, hood, away, current, iso, shutter, aperture: Scene(
        room=Room(illuminance=lux, hood=hood),
        away=away,
        beam_current=current,
        camera=Camera(iso=iso, shutter=shutter, aperture=aperture),
    ),
    decades(0.001, 1e5), st.floats(0.01, 1.0), decades(0.5, 50.0), decades(2e-9, 0.02),
    decades(50.0, 6400.0), decades(1e-4, 10.0), decades(1.0, 32.0),
)  # fmt: skip
BENCHES = st.sampled_from(["deflection tube", "fine-beam bulb", "axial coil tube"])


def usual(name: str) -> tuple[Settings, Glow]:
    volts = {"deflection tube": 3000.0, "fine-beam bulb": 200.0, "axial coil tube": 600.0}[name]
    set_so = Settings(accelerating_voltage=volts)
    density = 700.0 if name == "fine-beam bulb" else 8000.0
    return set_so, plain_glow(ready_made(name), set_so, density)


@FEW
@given(name=BENCHES, scene=SCENES, more=st.floats(1.1, 5.0))
def test_more_helps_or_hurts_the_right_way(name, scene, more):
    bench, (set_so, glow) = ready_made(name), usual(name)

    def margin(case: Scene, trace: Glow = glow) -> float:
        return assess_glow(bench, set_so, case, trace).eye.margin

    now = margin(scene)
    # More current is more light, saturated or not; in lumens it never falls.
    current = min(scene.beam_current * more, 0.05)
    assert margin(change(scene, {"beam_current": current})) >= now * (1.0 - 1e-9)
    # More room light, more distance: the threshold rises, the disc of equal effect shrinks.
    lux = min(scene.room.illuminance * more, 1e5)
    assert margin(change(scene, {"room.illuminance": lux})) <= now * (1.0 + 1e-2)
    assert margin(change(scene, {"away": min(scene.away * more, 100.0)})) <= now * (1.0 + 1e-9)
    if name != "fine-beam bulb":
        assert margin(scene, scaled(glow, more)) >= now * (1.0 - 1e-9)


@FEW
@given(name=BENCHES, scene=SCENES)
def test_every_answer_is_a_number_and_a_verdict_fits_its_chance(name, scene):
    bench, (set_so, glow) = ready_made(name), usual(name)
    found = assess_glow(bench, set_so, scene, glow)
    for verdict in (found.eye, found.camera):
        assert 0.0 <= verdict.chance <= 1.0
        assert verdict.margin >= 0.0
        assert verdict.factor >= 1.0
        if verdict.word == "surely":
            assert verdict.margin > 1.0
        if verdict.word == "no":
            assert verdict.margin < 1.0
    assert 0.0 <= found.seen_share <= 1.0
    assert found.luminance.value > 0.0
    assert found.background.value > 0.0


@FEW
@given(name=BENCHES, scene=SCENES)
def test_renderings_are_pictures(name, scene):
    bench, (set_so, glow) = ready_made(name), usual(name)
    light = light_of(bench, set_so, scene, glow)
    for image in (
        in_the_dark(light, GREEN),
        as_in_room(light, GREEN),
        as_by_camera(light, scene.camera, GREEN),
    ):
        assert image.dtype == np.uint8
        assert image.shape == (*light.trace.shape, 3)
    look = room_look(bench, set_so, scene, float(glow.ridge[0]))
    assert 0.0 <= look.share <= 1.0
    assert 0.0 <= max(look.ground) <= 1.0
    assert look.half > 0.0


@FEW
@given(name=BENCHES, scene=SCENES)
def test_the_rule_for_live_pictures_is_the_rendering(name, scene):
    # ground + share D / (D + half) against the response that the rendering uses, where the trace
    # is far above the threshold: there nothing fades.
    bench, (set_so, glow) = ready_made(name), usual(name)
    light = light_of(bench, set_so, scene, glow)
    density = float(glow.ridge[0])
    look = room_look(bench, set_so, scene, density)
    if float(light.trace.max()) < 20.0 * light.threshold:
        return
    by_rule = max(look.ground) + look.share * density / (density + look.half)
    shown = as_in_room(light, (255, 255, 255)).max() / 255.0
    assert min(by_rule, 1.0) == pytest.approx(shown, abs=0.02)


@FEW
@given(brightest=decades(1e-4, 1e5), behind=decades(1e-4, 1e5), aperture=decades(1.0, 16.0))
def test_a_suggested_exposure_never_burns_the_trace_out(brightest, behind, aperture):
    camera = suggest_exposure(Room(), Camera(aperture=aperture), brightest, behind)
    assert clips_at(camera) > (brightest + behind) or camera.aperture == 22.0
