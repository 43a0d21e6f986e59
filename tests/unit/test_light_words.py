"""Sentences: two figures at most, factors with every number, nothing of a length for a spot."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from glowtrace.bench.settings import Settings
from glowtrace.light.answer import answer_light
from glowtrace.light.assessment import assess
from glowtrace.light.glow import make_glow, plain_glow
from glowtrace.light.scene import Camera, Room, Scene
from glowtrace.light.verdict import Verdict
from glowtrace.words.light import (
    beam_words,
    camera_words,
    exposure_advice,
    exposure_words,
    factor_words,
    flicker_words,
    illuminance,
    luminance,
    margin_words,
    reason_words,
    remedy_words,
    ripple_words,
    room_nearby,
    shutter_text,
    times_words,
    verdict_words,
    why_words,
)

TUBE = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0 cd/m²"), (0.01234, "0.012 cd/m²"), (1.0, "1.0 cd/m²"), (12.34, "12 cd/m²"),
     (1234.0, "1200 cd/m²"), (123_456.0, "120000 cd/m²")],
)  # fmt: skip
def test_two_figures(value, text):
    assert luminance(value) == text
    assert illuminance(value) == ("0 lx" if value == 0.0 else text.replace("cd/m²", "lx"))


@pytest.mark.parametrize(
    ("factor", "text"),
    [(1.0, "within a factor of 1.1"), (3.26, "within a factor of 3.3"),
     (42.0, "within a factor of 40"), (5e4, "within a factor of more than 1000"),
     (math.inf, "or none at all")],
)  # fmt: skip
def test_factors(factor, text):
    assert factor_words(factor) == text


def test_margins():
    assert times_words(0.2512) == "0.25 times"
    assert times_words(137.2) == "140 times"
    assert times_words(1e5) == "more than 10 000 times"
    assert margin_words(Verdict(1e-5, 8.0, 0.0)) == "Far below what is needed"
    assert (
        margin_words(Verdict(2.0, 8.0, 0.6)) == "2.0 times what is needed, within a factor of 8.0"
    )
    assert verdict_words(Verdict(2.0, 8.0, 0.6)) == "Probably seen"


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.02, "1/50 s"), (0.001, "1/1000 s"), (0.5, "0.5 s"), (2.0, "2 s")]
)
def test_shutter_times(seconds, text):
    assert shutter_text(seconds) == text


def test_exposure_as_photographers_write_it():
    camera = Camera(iso=100.0, shutter=1 / 125, aperture=16.0)
    # EV = log2(256 x 125) = 14.97.
    assert exposure_words(camera) == "ISO 100, 1/125 s and f/16 (EV 15.0)"


def test_flicker_of_lamps_and_of_the_trace():
    suits = Scene(camera=Camera(shutter=0.02))
    assert flicker_words(suits) == (
        "1/50 s is a whole number of flickers of lamps on 50 Hz: no bands."
    )
    short = Scene(camera=Camera(shutter=0.002))
    # m |sin x / x| with x = pi 100 Hz 2 ms: 0.3 x 0.935 = 28 %.
    assert flicker_words(short) == (
        "Lamps on 50 Hz flicker by up to 28 % in pictures at 1/500 s, as bands or from frame to "
        "frame; 1/100 s suits them."
    )
    still = Scene(room=Room(lamp_flicker=0.01), camera=Camera(shutter=0.002))
    assert "less than 2 %" in flicker_words(still)
    assert "less than 0.5 %" in ripple_words(0.001)
    assert ripple_words(0.08).endswith("smooth the supply, or take a longer time.")


def test_why_is_told_with_factors_and_sums_to_the_whole(deflection_tube):
    scene = Scene(room=Room(illuminance=0.01), beam_current=2e-6)
    words = why_words(assess(deflection_tube, TUBE, scene), deflection_tube.bench, scene)
    assert len(words) == 3
    assert words[0].count("within a factor of") == 2
    shares = [int(share) for share in re.findall(r"(\d+) %", words[0])]
    assert len(shares) == 3  # in so dark a room the heater's glow counts too
    assert sum(shares) == pytest.approx(100, abs=2)
    assert "Of its length all would be seen" in words[2]


def reason(bench, lux, current, voltage=3000.0, density=1e4, **more):
    """The reason for a trace of a density that is told, which needs no flight."""
    settings = Settings(accelerating_voltage=voltage)
    scene = Scene(room=Room(illuminance=lux), beam_current=current, **more)
    glow = plain_glow(bench, settings, density)
    return answer_light(bench, settings, scene, glow)


def test_the_reason_is_what_stands_in_the_way(deflection_tube):
    bench = deflection_tube.bench
    # What it adds over what is needed is the margin, both being shares of the same light.
    answer = reason(bench, 400.0, 2e-6)
    told = reason_words(answer)
    assert told.startswith("The room’s light drowns it")
    adds, needs = (float(share) for share in re.findall(r"([\d.]+) %", told))
    assert adds / needs == pytest.approx(answer.found.eye.margin, rel=0.15)
    assert told.endswith("In full blackout: surely seen.")
    assert "in the way" in reason_words(reason(bench, 20.0, 1e-6))
    assert "too faint" in reason_words(reason(bench, 400.0, 1e-9))
    assert "even for a dark room" in reason_words(reason(bench, 0.1, 50e-9))
    assert "dead layer" in reason_words(reason(bench, 1.0, 1e-4, voltage=300.0))
    assert reason_words(reason(bench, 20.0, 1e-4)) == ""


def test_a_hot_cathode_is_a_reason_too(deflection_tube):
    # A black body of 2600 K gives some 10 lm/W, thousands of times as much as one of 1100 K.
    bench = deflection_tube.bench
    gun = bench.gun.model_copy(update={"cathode_temperature": 2600.0})
    filament = bench.model_copy(update={"gun": gun})
    told = reason_words(reason(filament, 0.1, 20e-9))
    assert told.startswith("The glow of the heater")
    assert "high tension off and discharged" in told


def test_room_light_is_compared_with_a_room_that_one_knows():
    assert room_nearby(10.0) == "a room with blinds down has about 20 lx"
    assert room_nearby(0.0) == "a room blacked out has about 0.1 lx"


def test_a_spot_has_no_length(axial_coil_tube):
    settings = Settings(accelerating_voltage=600.0)
    words = why_words(assess(axial_coil_tube, settings, Scene()), axial_coil_tube.bench, Scene())
    assert words[0].startswith("The spot has")
    assert not any("length" in each for each in words)


def test_camera_says_what_limits_and_what_helps(deflection_tube):
    lit = Scene(room=Room(illuminance=400.0), beam_current=2e-6)
    answer = answer_light(deflection_tube.bench, TUBE, lit, make_glow(deflection_tube, TUBE))
    assert "burns the picture out" in camera_words(answer.found, lit.camera)[0]
    advice = exposure_advice(answer.exposure, answer.exposed)
    assert remedy_words("too little contrast") in advice
    strong = Scene(room=Room(illuminance=1.0))
    found = assess(deflection_tube, TUBE, strong)
    assert any("burnt out" in each for each in camera_words(found, strong.camera))


def test_beam_is_told_with_its_source(deflection_tube):
    assert beam_words(deflection_tube.bench, Scene()) == (
        "110 µA (typical of the bench), of which 10 % leave the gun as the beam"
    )
    told = Scene(beam_current=2e-6, beam_share=0.5)
    assert beam_words(deflection_tube.bench, told).startswith("2.0 µA (as told), of which 50 %")


def test_no_sentence_has_a_number_that_is_none(deflection_tube):
    dark = Settings(accelerating_voltage=3000.0, heater_on=False)
    answer = answer_light(deflection_tube.bench, dark, Scene(), make_glow(deflection_tube, dark))
    told = " ".join(
        [
            *why_words(answer.found, deflection_tube.bench, Scene()),
            *camera_words(answer.found, Camera()),
            margin_words(answer.found.eye),
        ]
    )
    assert not re.search(r"\b(nan|inf)\b", told)
    assert answer.changes == ()
    assert answer.doubts == ()
    assert np.isfinite(answer.found.eye.margin)


def test_a_dead_layer_that_may_stop_everything(deflection_tube):
    # 600 V of a grazed layer within a factor of 2: a beam of 1 kV may or may not get through.
    bench, settings = deflection_tube.bench, Settings(accelerating_voltage=1000.0)
    answer = answer_light(bench, settings, Scene(), make_glow(deflection_tube, settings))
    assert "or none at all" in why_words(answer.found, bench, Scene())[0]
    assert answer.doubts[0].trust.key == "dead_voltage"
    slow = Settings(accelerating_voltage=500.0)
    answer = answer_light(bench, slow, Scene(), make_glow(deflection_tube, slow))
    assert "probably no light at all" in why_words(answer.found, bench, Scene())[0]
    assert [doubt.trust.key for doubt in answer.doubts] == ["dead_voltage"]
    assert answer.changes[0].key == "voltage"


@pytest.mark.parametrize("heater_on", [True, False])
def test_no_light_in_the_room_is_a_number_too(deflection_tube, heater_on):
    settings = Settings(accelerating_voltage=3000.0, heater_on=heater_on)
    scene = Scene(room=Room(illuminance=0.0))
    bench = deflection_tube.bench
    answer = answer_light(bench, settings, scene, make_glow(deflection_tube, settings))
    assert answer.found.eye.word == ("surely" if heater_on else "no")
    assert answer.found.camera.word == ("surely" if heater_on else "no")
    for words in (*why_words(answer.found, bench, scene), *camera_words(answer.found, Camera())):
        assert not re.search(r"\b(nan|inf)\b", words)
