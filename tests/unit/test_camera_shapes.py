"""Spots, circles and lines that turn back, read live and compared with the computed ones.

The truth is that of made-up pictures: what shone where.
"""

from __future__ import annotations

import io
import math
import time

import numpy as np
import pytest
from PIL import Image

from glowtrace.bench.computed_line import ComputedLine
from glowtrace.bench.ready_made import ready_made
from glowtrace.films.layout import Layout
from glowtrace.films.spot_reading import read_spot
from glowtrace.photographs.grid_lines import printed_grid
from glowtrace.photographs.synthetic import Camera, Conditions, CurveLight, take_photograph
from glowtrace.web.camera.glow_seen import GlowSeen, compared, seen_of
from glowtrace.web.camera.reading import LiveScreen, corner_crossings

FACE = ready_made("axial coil tube")
BULB = ready_made("fine-beam bulb")
TUBE = ready_made("deflection tube")
FACE_GRID = printed_grid(FACE)
SAME_WAY = np.ones(2)


def square_light(u, v, sigma, *, glow=0.6, room=0.03, seed=1):
    """Light of an end face square on, with printed lines, slanting room light and noise."""
    layout = Layout(FACE_GRID, 42, 6)
    row, column = np.mgrid[: layout.shape[0], : layout.shape[1]]
    at_u = layout.lowest[0] + layout.pixel * column
    at_v = layout.lowest[1] + layout.pixel * row
    light = room * (1.0 + 12.0 * at_u) + glow * np.exp(
        -((at_u - u) ** 2 + (at_v - v) ** 2) / (2.0 * sigma**2)
    )
    pitch = FACE_GRID.pitch
    off = np.minimum(*(np.abs((at / pitch + 0.5) % 1.0 - 0.5) * pitch for at in (at_u, at_v)))
    light *= 1.0 - 0.45 / (1.0 + np.exp((off - 0.15e-3) / 0.05e-3))
    noise = np.random.default_rng(seed).normal(size=light.shape)
    return (light + 0.003 * noise).astype(np.float32), layout


@pytest.mark.parametrize("sigma", [0.25e-3, 0.8e-3, 4e-3])
@pytest.mark.parametrize(("u", "v"), [(0.0, 0.0), (5.3e-3, -2.4e-3), (-7.1e-3, 6.8e-3)])
def test_spot_is_read_where_it_is(u, v, sigma):
    spot = read_spot(*square_light(u, v, sigma))
    assert spot is not None
    assert math.hypot(spot.u - u, spot.v - v) < max(0.05e-3, 0.03 * sigma)
    # A disc with the spread of a Gaussian has twice its standard deviation as radius.
    assert spot.radius == pytest.approx(2.0 * sigma, rel=0.15)


@pytest.mark.parametrize("seed", range(4))
def test_room_light_and_print_are_no_spot(seed):
    assert read_spot(*square_light(0.0, 0.0, 1e-3, glow=0.0, seed=seed)) is None


def jpeg(light, grid, size=(960, 720), room=0.05):
    """A camera a little from the side, and its picture."""
    u0, v0, u1, v1 = grid.rectangle
    across = max((u1 - u0) / size[0], (v1 - v0) / size[1])
    camera = Camera(
        aim=((u0 + u1) / 2, (v0 + v1) / 2), distance=1400.0 * across / 0.8,
        turn=math.radians(4.0), tilt=math.radians(-3.0), focal_length=1400.0, size=size,
    )  # fmt: skip
    conditions = Conditions(grid_pitch=grid.pitch, room_light=room)
    file = io.BytesIO()
    taken = take_photograph(light, camera, grid.rectangle, conditions)
    Image.fromarray(taken.pixels).save(file, "JPEG", quality=85)
    return camera, file.getvalue()


def followed(bench, light, wish="line"):
    """What is read of a picture, once everything about it is."""
    grid = printed_grid(bench)
    camera, picture = jpeg(light, grid)
    screen = LiveScreen(grid, bench.plane.shows)
    clicks = [(float(x), float(y)) for x, y in camera.pixels(list(corner_crossings(grid)))]
    screen.ask("clicks", clicks)
    screen.ask(wish, [])
    answer = screen.take(picture)
    end = time.monotonic() + 60.0
    while answer["shape"] == "curve" and not answer["u"] and time.monotonic() < end:
        answer = screen.take(picture)
    assert answer["state"] == "followed"
    return answer


@pytest.mark.slow
def test_spot_of_a_face_is_seen_the_other_way_round_than_it_is_counted():
    # The audience looks against the beam: z grows to its left.
    z, y = 6.2e-3, -3.7e-3

    def light(places):
        return np.exp(-((places[:, 0] + z) ** 2 + (places[:, 1] - y) ** 2) / 2e-6)

    seen = seen_of(followed(FACE, light), np.array([-1.0, 1.0]))
    assert seen.shape == "spot"
    assert seen.places[0] == pytest.approx([z, y], abs=0.1e-3)
    said, means = compared(seen, ComputedLine(FACE.plane, np.array([z]), np.array([y])), None)
    assert "sideways (z)" in said
    assert means == "They agree within the doubt."
    middle, edge = seen.handed
    assert edge[0] - middle[0] == pytest.approx(2.0, abs=0.3)


@pytest.mark.slow
def test_circle_of_a_gas_is_read_now_and_then_and_compared():
    turn = np.linspace(0.0, 2.0 * math.pi, 400)
    circle = np.column_stack([0.04 * np.sin(turn), 0.04 * (1.0 - np.cos(turn))])
    answer = followed(BULB, CurveLight(circle, 0.9e-3))
    seen = seen_of(answer, SAME_WAY)
    assert seen.shape == "curve"
    off = np.hypot(seen.places[:, 0], seen.places[:, 1] - 0.04) - 0.04
    assert float(np.sqrt(np.mean(off**2))) < 0.15e-3
    said, means = compared(seen, ComputedLine(BULB.plane, *circle.T), None)
    assert means == "They agree within the doubt."
    diameter = float(said.split("diameter ")[1].split(" ")[0].replace("−", "-"))
    assert abs(diameter) < 0.2
    larger = ComputedLine(BULB.plane, *(1.05 * circle).T)
    said, means = compared(seen, larger, None)
    # 5 % of 80 mm.
    assert float(said.split("diameter ")[1].split(" ")[0].replace("−", "-")) == pytest.approx(
        -4.0, abs=0.3
    )
    assert means.startswith("More than reading explains")
    assert len(seen.handed) == 15


@pytest.mark.slow
def test_line_that_turns_back_on_a_sheet_is_read_as_a_curve_if_wished():
    part = np.linspace(0.0, 1.0, 300)
    # It runs out, turns and comes back above itself.
    loop = np.column_stack([0.02 + 0.06 * np.sin(math.pi * part), -0.015 + 0.03 * part])
    seen = seen_of(followed(TUBE, CurveLight(loop, 0.7e-3), "curve"), SAME_WAY)
    said, means = compared(seen, ComputedLine(TUBE.plane, *loop.T), None)
    assert seen.shape == "curve"
    assert "root mean square" in said
    assert means == "They agree within the doubt."
    assert np.ptp(seen.places[:, 1]) > 0.02


def test_a_diameter_is_compared_of_a_circle_alone():
    turn = np.linspace(0.0, 2.0 * math.pi, 200)
    circle = np.column_stack([0.04 * np.sin(turn), 0.04 * (1.0 - np.cos(turn))])
    computed = ComputedLine(BULB.plane, *circle.T)
    whole = compared(GlowSeen("curve", circle), computed, None)[0]
    assert "diameter 0.00 ± " in whole
    short = compared(GlowSeen("curve", circle[:40]), computed, None)[0]
    assert "Too little of the circle" in short
    oval = compared(GlowSeen("curve", circle * np.array([1.0, 0.8])), computed, None)[0]
    assert "no circle" in oval
    straight = np.column_stack([np.linspace(0.0, 0.06, 50), np.zeros(50)])
    assert (
        "no diameter"
        in compared(GlowSeen("curve", straight), ComputedLine(BULB.plane, *straight.T), None)[0]
    )


def test_what_is_far_from_the_computed_line_does_not_agree():
    part = np.linspace(0.0, 1.0, 100)
    loop = np.column_stack([0.02 + 0.06 * np.sin(math.pi * part), -0.015 + 0.03 * part])
    computed = ComputedLine(TUBE.plane, *loop.T)
    same = compared(GlowSeen("curve", loop[5:-5]), computed, None)
    assert same[1] == "They agree within the doubt."
    away = compared(GlowSeen("curve", loop[5:-5] + np.array([0.0, 1e-3])), computed, None)
    assert away[1].startswith("More than reading explains")
    none = ComputedLine(TUBE.plane, np.empty(0), np.empty(0))
    assert "No line is computed" in compared(GlowSeen("curve", loop), none, None)[1]
    spot = GlowSeen("spot", np.array([[0.0, 1e-3]]), 1e-3)
    assert (
        "No spot is computed" in compared(spot, ComputedLine(FACE.plane, *none.places.T), None)[1]
    )
    middle = ComputedLine(FACE.plane, np.zeros(1), np.zeros(1))
    # 1 mm is 6 times the 0.15 mm to which a spot is read.
    assert compared(spot, middle, None)[1].startswith("More than reading explains")
    nothing = GlowSeen("line", np.empty((0, 2)))
    assert compared(nothing, computed, None) == ("", "")


@pytest.mark.parametrize(
    "told",
    [{"shape": "spot", "u": [1.0], "v": [2.0]}, {"u": [1.0], "v": []}, {"u": [1e999], "v": [0.0]}],
)
def test_what_no_page_tells_is_refused(told):
    with pytest.raises(ValueError):  # noqa: PT011
        seen_of(told, SAME_WAY)
