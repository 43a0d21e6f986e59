"""Exposure formula, clipping and flicker against their standards and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from glowtrace.light.camera_advice import flicker_free_times, suggest_exposure
from glowtrace.light.exposure import (
    C_INCIDENT,
    K_REFLECTED,
    camera_margins,
    clips_at,
    exposed_for,
    exposure_value,
    flicker_left,
    illuminance_exposed_for,
    is_flicker_free,
)
from glowtrace.light.scene import Camera, Room
from glowtrace.words.light import shutter_text


def test_constants_of_exposure_meters():
    # ISO 2720:1974 as quoted: K from 10.6 to 13.4, usually 12.5; C usually 250.
    assert 10.6 <= K_REFLECTED <= 13.4
    assert K_REFLECTED == 12.5
    assert C_INCIDENT == 250.0


@pytest.mark.parametrize("iso", [50.0, 100.0, 400.0])
def test_sunny_sixteen(iso):
    # f/16 and 1/ISO s: 16² x 12.5 = 3200 cd/m² (note on the ANSI standard; exact), by an
    # incident-light meter 16² x 250 = 64 000 lx.
    camera = Camera(iso=iso, shutter=1.0 / iso, aperture=16.0)
    assert exposed_for(camera) == pytest.approx(3200.0, rel=1e-12)
    assert illuminance_exposed_for(camera) == pytest.approx(64_000.0, rel=1e-12)


@pytest.mark.parametrize(
    ("aperture", "shutter", "value"),
    [(1.0, 1.0, 0.0), (16.0, 1 / 128, 15.0), (4.0, 1 / 64, 10.0), (2.0, 4.0, 0.0)],
)  # fmt: skip
def test_exposure_value_by_its_definition(aperture, shutter, value):
    # EV = log2(N²/t), ISO 2720:1974 as quoted.
    camera = Camera(aperture=aperture, shutter=shutter)
    assert exposure_value(camera) == pytest.approx(value, abs=1e-3)


def test_middle_grey_is_about_a_tenth_of_full_scale():
    # ISO 12232: focal plane exposure at saturation is 78/S lx s, H = 0.65 L t/N² (from memory).
    camera = Camera(iso=100.0, shutter=0.01, aperture=2.0)
    exposure = 0.65 * clips_at(camera) * camera.shutter / camera.aperture**2
    assert exposure == pytest.approx(78.0 / 100.0, rel=1e-12)
    assert exposed_for(camera) / clips_at(camera) == pytest.approx(0.104, abs=0.001)


@pytest.mark.parametrize("shutter", [0.003, 0.007, 0.012, 0.033])
def test_flicker_is_the_mean_of_a_sine_over_the_shutter_time(shutter):
    # Against the integral itself, for the worst moment of opening.
    mains, depth = 50.0, 0.4
    rate = 2.0 * mains

    def mean(opening):
        area, _ = quad(lambda t: depth * math.sin(2 * math.pi * rate * (opening + t)), 0, shutter)
        return area / shutter

    worst = max(abs(mean(opening)) for opening in np.linspace(0.0, 1.0 / rate, 400))
    assert flicker_left(depth, mains, shutter) == pytest.approx(worst, rel=1e-3)


@pytest.mark.parametrize(
    ("mains", "times"), [(50.0, ["1/100 s", "1/50 s"]), (60.0, ["1/120 s", "1/60 s", "1/40 s"])]
)
def test_shutter_times_that_lamps_do_not_spoil(mains, times):
    # Whole multiples of half the mains period: 1/100 s and 1/50 s at 50 Hz, 1/120 s and 1/60 s at
    # 60 Hz (common practice; it follows from the closed form above).
    found = flicker_free_times(mains, 0.026)
    assert [shutter_text(time) for time in found] == times
    for time in found:
        assert is_flicker_free(mains, time)
        assert flicker_left(1.0, mains, time) < 1e-9
    assert not is_flicker_free(60.0, 1 / 100)
    assert flicker_left(1.0, 60.0, 1 / 100) > 0.1


@pytest.mark.parametrize("brightest", [0.02, 1.0, 300.0, 2e4])
@pytest.mark.parametrize("frame_rate", [0.0, 25.0, 30.0])
@pytest.mark.parametrize("mains", [50.0, 60.0])
def test_suggested_exposure_keeps_the_formula(brightest, frame_rate, mains):
    room, camera = Room(mains_frequency=mains), Camera(frame_rate=frame_rate)
    found = suggest_exposure(room, camera, brightest, 0.1)
    assert is_flicker_free(mains, found.shutter)
    if frame_rate:
        assert found.shutter <= 1.0 / frame_rate + 1e-12
    if found.iso < 3200.0:  # else it is as much as the camera gives without drowning in noise
        # The brightest piece at two thirds of full scale, to a third of a stop either way.
        assert clips_at(found) == pytest.approx(1.5 * (brightest + 0.1), rel=0.15)


def test_noise_is_that_of_counted_electrons():
    # Poisson: N electrons have a noise of the square root of N. A line just one pixel wide that
    # fills the pixel by half, in darkness, no read noise to speak of.
    camera = Camera(iso=100.0, read_noise=0.1, full_well=1e4, away=1.0, pixels=1000.0)
    pixel = 2.0 * camera.away * math.tan(camera.field_of_view / 2) / camera.pixels
    half = np.array([clips_at(camera) / 2.0])
    margins = camera_margins(camera, half, np.array([1e-9]), pixel, np.array([1e4]))
    signal_to_noise = math.sqrt(5000.0) * math.sqrt(3.0)  # averaged over three pixels
    assert margins.noise[0] == pytest.approx(signal_to_noise / 5.0, rel=1e-3)  # Rose: 5
    assert not margins.is_clipped[0]


def test_a_background_that_is_burnt_out_hides_any_trace():
    camera = Camera(iso=3200.0, shutter=0.5, aperture=1.8)
    background = np.array([2.0 * clips_at(camera)])
    margins = camera_margins(camera, background * 10, background, 1e-3, np.array([1e4]))
    assert margins.least[0] == 0.0
    assert margins.reason == "background clipped"
