"""What drawings mean: closed forms drawn by an ideal hand, and by a shaky one.

The lines are y = a x^2 (parabola) and circles through the origin along x, as any textbook has them.
"""

from __future__ import annotations

import numpy as np
import pytest

from glowtrace.bench.computed_line import computed_line
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.explain.accounts import wrong_accounts
from glowtrace.explain.explanation import explain
from glowtrace.lesson.answer import Answer
from glowtrace.lesson.asking import about_accounts, account_behind, prediction
from glowtrace.lesson.live import Given
from glowtrace.lesson.meaning import group_answers, meaning_of, which_way

TUBE, BULB = ready_made("deflection tube"), ready_made("fine-beam bulb")
PLANE = TUBE.plane
U = np.linspace(0.0, 0.9 * PLANE.extent[1], 50)
HEIGHT = PLANE.heights[1]


def line(v) -> np.ndarray:
    return np.stack([U, np.broadcast_to(v, U.shape)], axis=1)


def answer(places) -> Answer:
    places = np.asarray(places)
    places = places[np.linspace(0, len(places) - 1, min(len(places), 60)).astype(int)]
    return Answer(line=tuple(map(tuple, (1e3 * np.asarray(places)).tolist())))


PARABOLA = line(0.6 * HEIGHT * (U / U[-1]) ** 2)
FLAT = line(0.0)


@pytest.mark.parametrize(
    ("drawn", "computed", "meaning"),
    [
        (PARABOLA, PARABOLA, "right"),
        (PARABOLA * [1, 1.3], PARABOLA, "right"),
        (PARABOLA[::-1], PARABOLA, "right"),
        (PARABOLA * [1, -1], PARABOLA, "wrong way"),
        (PARABOLA * [1, 0.3], PARABOLA, "too little"),
        (PARABOLA * [1, 2.2], PARABOLA, "too much"),
        (FLAT, PARABOLA, "no effect"),
        (PARABOLA, FLAT, "effect where none"),
        (FLAT, FLAT, "right"),
        (line(0.5 * HEIGHT * U / U[-1]), PARABOLA, "kink"),
    ],
)
def test_lines_that_run_on(drawn, computed, meaning):
    assert meaning_of(answer(drawn), computed, PLANE) == meaning


def arc(turned: float, radius: float) -> np.ndarray:
    angle = np.linspace(0.0, turned, 60)
    return radius * np.stack([np.sin(angle), 1.0 - np.cos(angle)], axis=1)


def test_arc_and_parabola_are_told_apart_where_they_differ():
    radius = 0.8 * PLANE.extent[1]
    bent = arc(1.4, radius)
    u = np.linspace(0.0, bent[-1, 0], 60)
    like = np.stack([u, bent[-1, 1] * (u / u[-1]) ** 2], axis=1)
    assert meaning_of(answer(bent), bent, PLANE) == "right"
    assert meaning_of(answer(bent), like, PLANE) == "arc"
    assert meaning_of(answer(like), bent, PLANE) == "parabola"


def test_lines_that_come_back():
    loop = arc(2.8, 0.35 * PLANE.extent[1])
    assert meaning_of(answer(loop), PARABOLA, PLANE) == "turns back"
    assert meaning_of(answer(PARABOLA), loop, PLANE) == "runs on"
    assert meaning_of(answer(loop * [1, -1]), loop, PLANE) == "wrong way"
    assert meaning_of(answer(loop), loop, PLANE) == "right"


def test_a_shaky_hand_means_the_same():
    rng = np.random.default_rng(3)
    found = []
    for _ in range(100):
        shaky = PARABOLA * [1, 0.85 + 0.3 * rng.random()]
        shaky = shaky[::4] + rng.normal(0.0, 0.6e-3, (13, 2)) + rng.normal(0.0, 1e-3, 2)
        found.append(meaning_of(answer(shaky), PARABOLA, PLANE))
    assert found.count("right") >= 95


@pytest.mark.parametrize(
    ("drawn", "meaning"),
    [
        ([0.001, 0.011], "right"),
        ([0.0, 0.0], "no effect"),
        ([0.0, -0.010], "wrong way"),
        ([0.012, 0.001], "across"),
        ([0.0, 0.022], "too much"),
        ([0.0, 0.0045], "too little"),
    ],
)
def test_spots(drawn, meaning):
    plane = ready_made("axial coil tube").plane
    assert meaning_of(answer([drawn]), np.array([[0.0, 0.012]]), plane) == meaning


def test_choices_mean_what_drawings_do():
    for choice, meaning in (("up", "right"), ("down", "wrong way"), ("straight", "no effect"),
                            ("back", "turns back"), ("none", "no light")):  # fmt: skip
        assert meaning_of(Answer(choice=choice), PARABOLA, PLANE) == meaning
    assert meaning_of(Answer(choice="up"), FLAT, PLANE) == "effect where none"


def line(prepared, settings):
    return computed_line(prepared, settings).first_piece


@pytest.fixture(scope="module")
def tube():
    return prepare(TUBE)


def test_computed_line_of_a_bench_bends_as_its_force_says(tube):
    # F = q v x B with q = -e, v along +x and B along +z for I > 0 points up.
    settings = Settings(accelerating_voltage=3000.0, coil_current=0.3)
    computed = line(tube, settings)
    assert which_way(computed, PLANE) == "up"
    other = line(tube, settings.model_copy(update={"coil_reversed": True}))
    assert which_way(other, PLANE) == "down"
    dark = settings.model_copy(update={"heater_on": False})
    assert which_way(line(tube, dark), PLANE) == "none"
    assert meaning_of(answer(computed * [1, -1]), computed, PLANE) == "wrong way"


def test_groups_with_counts_and_the_account_behind_them(tube):
    settings = Settings(accelerating_voltage=3000.0, coil_current=0.3)
    computed = line(tube, settings)
    drawn = [answer(computed)] + 3 * [answer(computed * [1, -1])] + 2 * [answer(FLAT)]
    given = [Given(f"{n}", "", n, each) for n, each in enumerate(drawn)]
    groups = group_answers(given, lambda one: meaning_of(one.answer, computed, PLANE))
    assert [(group.meaning, group.count) for group in groups] == [
        ("wrong way", 3),
        ("no effect", 2),
        ("right", 1),
    ]
    accounts = wrong_accounts(tube, explain(tube, settings))
    behind = account_behind("wrong way", accounts)
    assert behind is not None
    assert behind.key == "current"
    assert account_behind("right", accounts) is None
    asked = about_accounts(accounts, settings)
    assert asked.choices[-1].key == "none"
    assert {each.key for each in asked.choices[:-1]} <= {each.key for each in accounts}


def test_circle_of_the_bulb_comes_back():
    bulb = prepare(BULB)
    computed = line(bulb, Settings(accelerating_voltage=200.0, coil_current=1.5))
    assert which_way(computed, BULB.plane) == "back"
    assert prediction(BULB.plane, Settings(accelerating_voltage=200.0)).draws == "circle"
