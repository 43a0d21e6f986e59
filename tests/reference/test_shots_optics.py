"""What a lens takes in: worked examples of a textbook, published tables, and the blur itself."""

from __future__ import annotations

import math

import pytest

from glowtrace.shots.framing import Box, frame_box
from glowtrace.shots.lens import (
    LENSES,
    angle_seen,
    away_for,
    image_distance,
    magnification,
    sharp_between,
    width_seen,
    working_number,
)


def test_camera_focused_on_what_its_film_distance_tells():
    # OpenStax College Physics, 25.6, problems (from memory): a 50.0 mm lens stands 51.0 mm before
    # the film; the sharp object is 2.55 m away, and an image of 2.00 cm is one of 1.00 m.
    away = 2.55
    assert image_distance(0.050, away) == pytest.approx(0.0510, abs=0.00005)
    assert 0.0200 / magnification(0.050, away) == pytest.approx(1.00, abs=0.005)


def test_close_up_of_a_lens_that_draws_out_by_half():
    # The same section (from memory): a 22.0 mm lens goes up to 33.0 mm from the film; the closest
    # object stands at 66.0 mm and is imaged half as large.
    assert away_for(0.022, 0.5) == pytest.approx(0.0660)
    assert image_distance(0.022, 0.066) == pytest.approx(0.0330)
    assert width_seen(0.036, 0.022, 0.066) == pytest.approx(0.072)


@pytest.mark.parametrize(
    ("focal", "degrees"),
    [(18e-3, 90.0), (24e-3, 73.7), (28e-3, 65.5), (50e-3, 39.6), (85e-3, 23.9), (135e-3, 15.2)],
)
def test_angles_of_view_of_the_usual_tables(focal, degrees):
    # Across a picture 36 mm wide, focused far away; tables of photography, from memory.
    assert math.degrees(angle_seen(36e-3, focal)) == pytest.approx(degrees, abs=0.06)


def test_life_size_takes_two_steps_more_light():
    # At 1:1 object and image stand at 2f and the f-number doubles (handbooks, from memory).
    assert away_for(0.1, 1.0) == pytest.approx(0.2)
    assert 2 * math.log2(working_number(4.0, 1.0) / 4.0) == pytest.approx(2.0)


def test_hyperfocal_distance_of_the_tables():
    # 50 mm at f/8 and a circle of 0.03 mm: 10.5 m, sharp from half of it on (tables, from memory).
    near, far = sharp_between(0.050, 8.0, 10.47, 0.03e-3)
    assert near == pytest.approx(5.23, abs=0.01)
    assert far > 1e4


@pytest.mark.parametrize(("focal", "aperture", "away"), [(0.055, 5.6, 0.6), (6.8e-3, 1.8, 0.3)])
def test_edges_of_sharpness_have_that_blur_by_similar_triangles(focal, aperture, away):
    # The cone behind the lens, f/N wide at its base, cut where the sensor is.
    blur = 0.01e-3
    sensor = focal * away / (away - focal)
    for edge in sharp_between(focal, aperture, away, blur):
        image = focal * edge / (edge - focal)
        assert focal / aperture * abs(image - sensor) / image == pytest.approx(blur, rel=1e-6)


@pytest.mark.parametrize("name", LENSES)
@pytest.mark.parametrize("width", [0.02, 0.1, 0.4])
def test_a_framed_box_fills_the_picture(name, width):
    # The ray through the middle of the lens: half a width at the distance, half the angle.
    lens = LENSES[name]
    framing = frame_box(lens, Box(0.0, width, 0.0, 0.2 * width))
    assert framing.box.width == pytest.approx(width)
    seen = 2.0 * framing.away * math.tan(framing.angle / 2.0)
    assert seen == pytest.approx(width, rel=1e-9)
    assert framing.away >= max(lens.nearest, 0.3)
    assert lens.shortest <= framing.focal <= lens.longest
    assert framing.zoom >= 1.0
