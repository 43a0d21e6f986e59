"""A live camera's pictures: the screen followed, the line read, and how it is compared.

The truth is that of made-up pictures: where the camera of `photographs.synthetic` sees a place.
"""

from __future__ import annotations

import io
import math
from functools import cache

import numpy as np
import pytest
from PIL import Image

from glowtrace.bench.computed_line import ComputedLine
from glowtrace.bench.ready_made import ready_made
from glowtrace.photographs.grid_lines import printed_grid
from glowtrace.photographs.synthetic import Camera, Conditions, CurveLight, take_photograph
from glowtrace.web.camera.comparison import compare, comparison_words, handed
from glowtrace.web.camera.feed import wish_of
from glowtrace.web.camera.glow_seen import seen_of
from glowtrace.web.camera.reading import PATIENT, LiveScreen, corner_crossings

BENCH = ready_made("deflection tube")
GRID = printed_grid(BENCH)
U = np.linspace(GRID.rectangle[0], GRID.rectangle[2], 200)
CURVE = np.column_stack([U, 1.2 * (U - U[0]) ** 2])  # m: a parabola, 10 mm up at the end
COMPUTED = ComputedLine(BENCH.plane, *CURVE.T)


def camera(shift: float = 0.0, roll: float = 0.0) -> Camera:
    u0, v0, u1, v1 = GRID.rectangle
    focal, size = 1400.0, (1280, 720)
    across = max((u1 - u0) / size[0], (v1 - v0) / size[1])
    return Camera(
        aim=((u0 + u1) / 2 + shift * across / 0.8, (v0 + v1) / 2), distance=focal * across / 0.8,
        turn=math.radians(4.0), tilt=math.radians(-3.0), roll=math.radians(roll),
        focal_length=focal, size=size,
    )  # fmt: skip


@cache
def picture(shift: float = 0.0, scale: float = 1.0, roll: float = 0.0) -> bytes:
    """A JPEG of the screen; ``shift`` in pixels of the picture."""
    conditions = Conditions(grid_pitch=GRID.pitch, room_light=0.05)
    taken = take_photograph(
        CurveLight(CURVE, 0.7e-3), camera(shift, roll), GRID.rectangle, conditions
    )
    image = Image.fromarray(taken.pixels)
    file = io.BytesIO()
    image.resize([round(scale * each) for each in image.size]).save(file, "JPEG", quality=85)
    return file.getvalue()


def clicked(off: float = 1.0) -> LiveScreen:
    """A screen fixed by clicks that are off by so many pixels."""
    screen = LiveScreen(GRID)
    places = camera().pixels(list(corner_crossings(GRID)))
    away = off * np.array([[1, 1], [-1, 1], [1, -1], [-1, -1]])
    screen.ask("clicks", [(float(x), float(y)) for x, y in places + away])
    return screen


def off_truth(answer) -> np.ndarray:
    read = seen_of(answer, np.ones(2)).places
    assert len(read) > 60
    return read[:, 1] - np.interp(read[:, 0], *CURVE.T)


@pytest.mark.slow
def test_four_clicks_suffice_and_a_push_is_never_read_by_the_old_map():
    screen = clicked()
    assert screen.take(picture())["state"] == "followed"
    answer = screen.take(picture())
    # 0.2 mm: what is wanted of rendered films.
    assert float(np.sqrt(np.mean(off_truth(answer) ** 2))) < 0.2e-3
    states = []
    for _ in range(3):
        answer = screen.take(picture(30.0))
        states.append(answer["state"])
        if answer["state"] == "followed":
            assert np.abs(off_truth(answer)).max() < 0.3e-3
    assert states[-1] == "followed"


def test_map_told_to_the_page_is_that_of_the_photographs():
    # The page's own script has this formula: H by rows, then the bend of the lens.
    told = clicked().take(picture())["map"]
    u, v = corner_crossings(GRID)[2]
    a, b = (np.array([u, v]) - told["origin"]) / told["spread"]
    x, y, w = np.array(told["numbers"]).reshape(3, 3) @ [a, b, 1.0]
    seen_at = np.array([x, y]) / w
    bent = math.hypot(1280, 720) / 2 * (1 + told["bend"] * (seen_at**2).sum())
    found = seen_at * bent + [639.5, 359.5]
    assert found == pytest.approx(camera().pixels([[u, v]])[0], abs=1.0)


@pytest.mark.slow
def test_grid_is_found_in_two_pictures_that_agree():
    screen = LiveScreen(GRID)
    screen.ask("find", [])
    assert screen.take(picture())["state"] == "looking"
    answer = screen.take(picture())
    assert answer["state"] == "followed"
    assert np.abs(off_truth(answer)).max() < 0.3e-3
    screen.ask("find", [])
    screen.take(picture())
    answer = screen.take(picture(30.0))
    assert answer["state"] == "none"
    assert "different places" in answer["says"]


@pytest.mark.thorough
@pytest.mark.slow
def test_after_a_turn_the_grid_is_looked_for_everywhere():
    screen = clicked()
    screen.take(picture())
    states = [screen.take(picture(roll=7.0))["state"] for _ in range(2 * PATIENT + 2)]
    assert states[0] == "lost"
    assert states[-1] == "followed"
    assert np.abs(off_truth(screen.take(picture(roll=7.0)))).max() < 0.3e-3


@pytest.mark.slow
def test_what_cannot_be_read_is_told_and_nothing_is_guessed():
    screen = clicked()
    assert screen.take(b"no picture")["state"] == "unreadable"
    assert screen.take(picture())["state"] == "followed"
    answer = screen.take(picture(0.0, 0.5))
    assert answer["state"] == "none"
    assert "changed the size" in answer["says"]
    screen.ask("clicks", [(10.0, 10.0), (20.0, 20.0), (30.0, 30.0), (40.0, 40.0)])
    assert "in a line" in screen.take(picture(0.0, 0.5))["says"]


@pytest.mark.parametrize(
    "text",
    ["", "[]", '{"do":"keep"}', '{"do":"clicks"}', '{"do":"clicks","clicks":[[1,2]]}',
     '{"do":"clicks","clicks":[[1,2],[3,4],[5,6],[7,1e9]]}', '{"do":"find"}' + " " * 300,
     '{"do":"clicks","clicks":[[1,2],[3,4],[5,6],[7,NaN]]}'],
)  # fmt: skip
def test_wishes_that_no_page_sends_are_refused(text):
    with pytest.raises(ValueError):  # noqa: PT011
        wish_of(text)


def test_difference_at_the_end_of_the_line_with_its_doubt():
    read = CURVE + np.array([0.0, 1e-3])
    found = compare(read, COMPUTED, None)
    assert found is not None
    assert found.off == pytest.approx(1e-3, abs=2e-5)
    assert found.doubt == pytest.approx(1.96 * 0.15e-3, rel=1e-3)  # 95 % of a normal number
    assert not found.agrees
    assert "is not told" in comparison_words(found)[1]
    same = compare(CURVE, COMPUTED, None)
    assert same is not None
    assert same.agrees
    assert compare(CURVE[:3], COMPUTED, None) is None


def test_a_line_that_turns_back_is_not_compared():
    turned = np.vstack([CURVE, CURVE[::-1] + np.array([0.0, 1e-3])])
    assert COMPUTED.is_rising
    assert not ComputedLine(BENCH.plane, *turned.T).is_rising
    assert len(handed(CURVE)) == 15
    assert handed(CURVE[:3]) == ()
