"""The picture plane of each kind of screen, against geometry written out here."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.layout import canvas_of, plate_rectangles
from glowtrace.bench.parts import Cylinder, EndFace, GasGlow, Sheet
from glowtrace.bench.screen_plane import KINDS, multiples, plate_ends, screen_plane

SHEET = Sheet(x_from=0.01, x_to=0.11, height=0.05, z_from=-0.01, z_to=0.03, grid_pitch=0.01)
FACE = EndFace(x=0.2, width=0.06, height=0.04, grid_pitch=0.005)
GAS = GasGlow(x_from=-0.05, x_to=0.07, y_from=-0.02, y_to=0.09, grid_pitch=0.01)
SCREENS = (SHEET, FACE, GAS)


@pytest.mark.parametrize("screen", SCREENS)
def test_places_in_space_are_seen_where_they_lie(screen):
    plane = screen_plane(screen)
    u0, v0, u1, v1 = plane.rectangle
    places = np.array([[u0, v0], [0.3 * u0 + 0.7 * u1, 0.2 * v0 + 0.8 * v1], [u1, v1]])
    u, v = plane.coordinates(plane.place_in_space(places))
    assert np.stack([u, v], axis=1) == pytest.approx(places, abs=1e-15)
    assert plane.holds(places).all()
    assert not plane.holds(places + np.array([u1 - u0, 0.0]) + 1e-9).any()
    assert plane.kind == screen.kind == KINDS[plane.shows]


def test_sheet_stands_at_an_angle():
    plane = screen_plane(SHEET)
    angle = math.atan2(0.04, 0.1)
    assert plane.is_line
    assert plane.angle == pytest.approx(angle)
    assert plane.u_of(0.1) == pytest.approx(0.1 / math.cos(angle))
    assert plane.x_of(plane.u_of(0.07)) == pytest.approx(0.07)
    low, high = plane.place_in_space(np.array([[plane.u_of(x), 0.0] for x in (0.01, 0.11)]))
    assert low == pytest.approx([0.01, 0.0, -0.01])
    assert high == pytest.approx([0.11, 0.0, 0.03])


def test_face_is_looked_at_against_the_beam():
    plane = screen_plane(FACE)
    assert plane.is_spot
    assert plane.is_mirrored
    assert plane.shown_x == (0.2, 0.2)
    assert plane.place_in_space(np.array([[0.01, 0.02]]))[0] == pytest.approx([0.2, 0.02, 0.01])
    assert plane.plates(None) == ()


def test_gas_shows_the_path_in_the_plane_of_the_picture():
    plane = screen_plane(GAS)
    assert plane.glows
    assert plane.shown_x == (0.0, 0.07)
    assert plane.heights == (-0.02, 0.09)
    assert plane.extent == (-0.05, 0.07, -0.02, 0.09)


def test_grid_has_the_lines_within_the_picture_and_on_its_edges():
    upright, level = screen_plane(GAS).grid()
    assert np.array(upright) == pytest.approx(0.01 * np.arange(-5, 8))
    assert np.array(level) == pytest.approx(0.01 * np.arange(-2, 10))
    assert np.array(screen_plane(GAS).grid(every=5)[0]) == pytest.approx([-0.05, 0.0, 0.05])
    assert multiples(0.3, 0.6, 0.1) == pytest.approx([0.3, 0.4, 0.5, 0.6])


def test_plates_are_drawn_where_they_stand(deflection_tube):
    """Ends of tilted plates by a turn about their middles; the bodies in space are the same."""
    tilt = math.radians(3.0)
    plates = deflection_tube.bench.plates.model_copy(
        update={"tilt_upper": tilt, "tilt_lower": -tilt, "height_offset": 0.002}
    )
    for ends, body, side in zip(
        plate_ends(plates), plate_rectangles(plates), (1.0, -1.0), strict=True
    ):
        middle = np.array([plates.start + plates.length / 2, 0.002 + side * plates.gap / 2])
        away = plates.length / 2 * np.array([math.cos(tilt), side * math.sin(tilt)])
        assert ends == pytest.approx(np.array([middle - away, middle + away]))
        assert body.centre == pytest.approx((*middle, 0.0))
        assert body.edge_u == pytest.approx((*(2 * away), 0.0))
    for seen, ends in zip(screen_plane(SHEET).plates(plates), plate_ends(plates), strict=True):
        assert seen[:, 0] * math.cos(SHEET.angle) == pytest.approx(ends[:, 0])
    assert screen_plane(FACE).plates(plates) == ()


def test_bulb_is_the_outline_round_gas_alone(fine_beam_bulb, deflection_tube):
    envelope = fine_beam_bulb.bench.envelope
    assert fine_beam_bulb.plane.bulb(envelope) == (*envelope.centre[:2], envelope.radius)
    assert deflection_tube.plane.bulb(envelope) is None
    tube = Cylinder(x_from=-0.1, x_to=0.2, radius=0.05)
    assert screen_plane(GAS).bulb(tube) is None


@pytest.mark.parametrize("screen", SCREENS)
def test_pixels_cover_the_picture(screen):
    plane = screen_plane(screen)
    rows, columns = plane.image_shape
    u0, v0, u1, v1 = plane.rectangle
    assert columns * plane.pixel == pytest.approx(u1 - u0)
    assert -1e-12 <= rows * plane.pixel - (v1 - v0) < plane.pixel
    assert canvas_of(plane).lowest == (u0, v0)
