"""Renderings: what is bright is bright, what is below the threshold is gone, sRGB is sRGB."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from glowtrace.bench.settings import Settings
from glowtrace.light.exposure import clips_at
from glowtrace.light.glow import make_glow
from glowtrace.light.rendering import Light, as_by_camera, as_in_room, in_the_dark, light_of
from glowtrace.light.scene import Camera, Room, Scene
from glowtrace.report.light_picture import light_picture

GREEN = (92, 240, 196)
TUBE = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)
QUIET = Camera(iso=100.0, full_well=1e6, read_noise=0.1)


def bar(luminance: float, behind: float, threshold: float = 0.01) -> Light:
    """A bright bar over half of a small picture."""
    trace = np.zeros((20, 40))
    trace[:10] = luminance
    return Light(trace, behind, behind, threshold)


def test_grey_card_comes_out_as_the_camera_is_set():
    # Exposure equation and sRGB: what is exposed for lands at 10.4 % of full scale, which
    # sRGB (IEC 61966-2-1) encodes as 1.055 x 0.104^(1/2.4) - 0.055 = 0.356.
    light = bar(0.0, 0.104 * clips_at(QUIET))
    shown = as_by_camera(light, QUIET, GREEN).astype(float) / 255.0
    luma = shown.reshape(-1, 3) @ np.array([0.2126, 0.7152, 0.0722])
    assert float(luma.mean()) == pytest.approx(0.356, abs=0.01)


def test_camera_clips_to_white_and_leaves_black():
    full = clips_at(QUIET)
    shown = as_by_camera(bar(100.0 * full, 0.0), QUIET, GREEN)
    assert shown[:10].min() == 255
    assert shown[10:].max() <= 2


def test_noise_grows_with_iso_at_the_same_picture():
    # Fewer electrons for the same brightness: noise goes with the root of the ISO speed.
    levels = {}
    for iso in (100.0, 1600.0):
        camera = Camera(iso=iso, shutter=0.01 * 100.0 / iso, full_well=3e4, read_noise=0.1)
        light = bar(0.0, 0.2 * clips_at(camera))
        seen = as_by_camera(light, camera, GREEN, pixel=1e-4).astype(float)
        levels[iso] = float(seen[..., 1].std())
    assert levels[1600.0] / levels[100.0] == pytest.approx(4.0, rel=0.25)


def test_what_is_below_the_threshold_is_gone():
    hidden = as_in_room(bar(0.3, 50.0, threshold=3.0), GREEN).astype(int)
    assert np.abs(hidden[:10] - hidden[10:]).max() <= 1
    seen = as_in_room(bar(60.0, 50.0, threshold=3.0), GREEN).astype(int)
    assert (seen[:10] - seen[10:])[..., 1].min() > 20


def test_colours_fade_in_the_dark():
    # Below some hundredths of a candela per square metre rods see, without colour.
    def saturation(luminance: float) -> float:
        shown = as_in_room(bar(luminance, 1e-4, threshold=1e-5), (80, 255, 80)).astype(float)[:10]
        return float((shown.max(axis=2) - shown.min(axis=2)).mean() / shown.max())

    assert saturation(0.02) < 0.6 * saturation(0.5)


def test_darkness_shows_the_trace_alone_whatever_its_luminance():
    faint, strong = in_the_dark(bar(1e-3, 5.0), GREEN), in_the_dark(bar(1e3, 5.0), GREEN)
    assert np.array_equal(faint, strong)
    assert strong[10:].max() == 0


def test_a_lit_room_looks_brighter_and_shows_printed_lines(deflection_tube):
    bench, glow = deflection_tube.bench, make_glow(deflection_tube, TUBE)
    shown = {}
    for lux in (0.1, 400.0):
        scene = Scene(room=Room(illuminance=lux), beam_current=2e-6)
        light = light_of(bench, TUBE, scene, glow)
        content = light_picture(bench, glow, light, scene.camera, "room")
        shown[lux] = np.asarray(Image.open(io.BytesIO(content))).astype(float)
    assert shown[400.0].mean() > 3.0 * shown[0.1].mean()
    # The trace rises to the right: rows run downwards in a picture file.
    bright = shown[0.1][..., 1]
    left, right = (
        bright[:, part].sum(axis=1).argmax() for part in (slice(0, 90), slice(-90, None))
    )
    assert right < left
    # Printed lines 10 mm apart: dark columns at that distance.
    columns = shown[400.0][-60:, :, 1].mean(axis=0)
    dark = np.flatnonzero(columns < 0.8 * np.median(columns))
    pitch = 10e-3 / ((glow.extent[1] - glow.extent[0]) / columns.size)
    gaps = np.diff(dark)[np.diff(dark) > 5]
    assert np.median(gaps) == pytest.approx(pitch, abs=3)


def test_an_end_face_is_seen_from_outside(axial_coil_tube):
    # The audience looks against the beam, so z grows to its left.
    bench = axial_coil_tube.bench
    glow = make_glow(axial_coil_tube, Settings(accelerating_voltage=600.0))
    light = light_of(bench, Settings(accelerating_voltage=600.0), Scene(), glow)
    one_sided = light._replace(trace=np.where(np.arange(300) > 200, light.trace.max(), 0.0)
                               * np.ones((300, 1)))  # fmt: skip
    content = light_picture(bench, glow, one_sided, Camera(), "dark")
    shown = np.asarray(Image.open(io.BytesIO(content))).astype(float).sum(axis=(0, 2))
    assert shown[:200].sum() > shown[-200:].sum()
