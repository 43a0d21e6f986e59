"""Goals: what suits a bench, what makes no sense, and figures that judge themselves.

The wording and the ranges are the project's own. The physics that a goal tells is checked against
the closed forms of crossed fields (see tests/reference/test_closed_forms.py for their sources).
"""

import dataclasses
import json
import math

import numpy as np
import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import (
    GOALS,
    CoilDeflection,
    Figure,
    FullCircle,
    HelixFocus,
    PlateDeflection,
    StraightBeam,
    TurnBack,
    goal_kind,
    suitable_goals,
    unsuited,
)
from glowtrace.demos.goals.turning import course, turning_points
from glowtrace.demos.trochoid import trochoid
from glowtrace.errors import GlowtraceError

SUITED = {
    "deflection tube": {"plate deflection", "coil deflection", "null", "turn-back"},
    "fine-beam bulb": {"coil deflection", "full circle"},
    "axial coil tube": {"helix focus"},
}


@pytest.mark.parametrize("name", ready_made_names())
def test_every_bench_is_offered_what_it_can_show(name):
    bench = ready_made(name)
    goals = suitable_goals(bench)
    assert {goal.name for goal in goals} == SUITED[name]
    assert all(goal.misfit(bench) is None for goal in goals)


def test_goals_are_known_by_name():
    assert [goal_kind(kind.name) for kind in GOALS] == list(GOALS)
    with pytest.raises(GlowtraceError, match="did you mean turn-back"):
        goal_kind("turnback")


@pytest.mark.parametrize("kind", GOALS)
def test_goals_declare_themselves(kind):
    names = {field.name for field in dataclasses.fields(kind)}
    assert set(kind.units) == names
    assert kind.title
    assert kind.says.endswith(".")
    assert kind.cautions
    assert kind.measures
    assert set(kind.knobs) <= {"accelerating_voltage", "plate_voltage", "coil_current"}


def test_goals_as_plain_data_carry_units():
    plain = PlateDeflection(0.09, 0.01).as_dict()
    assert plain["x_m"] == 0.09
    assert plain["height_m"] == 0.01
    assert TurnBack(0.01, 0.8).as_dict()["turns"] == 0.8
    json.dumps(plain)
    assert [target.name for target in StraightBeam(0.09, 0.008).targets()] == [
        "length",
        "plates alone",
    ]


@pytest.mark.parametrize(
    ("build", "told"),
    [
        (lambda: PlateDeflection(-0.01, 0.01), "x: -10.0 mm is not allowed; give more than 0 m"),
        (lambda: CoilDeflection(0.09, 0.0), "height: 0 m"),
        (lambda: CoilDeflection(0.09, 0.01, tolerance=0.0), "tolerance"),
        (lambda: StraightBeam(math.inf, 0.01), "length"),
        (lambda: StraightBeam(0.09, -0.01), "plates_alone"),
        (lambda: TurnBack(0.01, 0.5), "turns: 0.500 is not allowed; give more than 0.5"),
        (lambda: TurnBack(math.nan, 0.8), "depth"),
        (lambda: FullCircle(0.0), "diameter"),
        (lambda: HelixFocus(0, 0.001), "give 1 or more whole turns"),
        (lambda: HelixFocus(1.5, 0.001), "give a whole number of turns"),
        (lambda: HelixFocus(1, 0.0), "spot"),
    ],
)
def test_targets_that_make_no_sense_are_refused(build, told):
    with pytest.raises(GlowtraceError, match=told):
        build()


@pytest.mark.parametrize(
    ("goal", "changes", "told"),
    [
        (PlateDeflection(0.2, 0.01), {}, "the screen shows the beam x from 12.0 mm to 104 mm"),
        (PlateDeflection(0.09, 0.03), {}, "the screen reaches from -22.0 mm to 22.0 mm"),
        (StraightBeam(0.2, 0.01), {}, "shows the beam up to x = 104 mm"),
        (TurnBack(0.03, 0.8), {}, "the screen reaches 22.0 mm from the axis"),
        (TurnBack(0.01, 0.8), {"coils.sense": "opposing"}, "its field in the middle is zero"),
        (CoilDeflection(0.09, 0.01), {"coils.sense": "opposing"}, "opposing"),
    ],
)
def test_what_of_the_bench_rules_a_goal_out_is_said(goal, changes, told):
    bench = change(ready_made("deflection tube"), changes)
    assert told in goal.misfit(bench)


def test_missing_parts_are_said():
    tube, axial = ready_made("deflection tube"), ready_made("axial coil tube")
    assert "no plates" in unsuited(PlateDeflection, axial)
    assert "a long coil, and this needs a coil pair" in unsuited(CoilDeflection, axial)
    assert "no coils" in unsuited(TurnBack, change(tube, {"coils": None, "supplies.coils": None}))
    assert "a sheet along the beam, and this takes gas" in unsuited(FullCircle, tube)
    assert "too little for a circle" in FullCircle(0.2).misfit(ready_made("fine-beam bulb"))


@pytest.mark.parametrize(
    ("figure", "is_right"),
    [
        (Figure("height", 0.01, "m", 0.009, 0.011), True),
        (Figure("height", 0.012, "m", 0.009, 0.011), False),
        (Figure("height", 0.008, "m", 0.009), False),
        (Figure("height", math.nan, "m", 0.009, 0.011), False),
        (Figure("trace width", math.nan, "m"), True),
    ],
)
def test_figures_judge_themselves(figure, is_right):
    assert figure.is_right is is_right
    json.dumps(figure.as_dict(), allow_nan=False)


def test_figures_say_what_is_wanted():
    assert str(Figure("height", 0.012, "m", 0.009, 0.011)) == (
        "height: 12.0 mm; wanted at least 9.00 mm and at most 11.0 mm"
    )
    assert "not to be seen" in str(Figure("height", math.nan, "m", 0.009))


def test_a_turn_back_tells_the_truth_about_the_turning_point():
    """At 500 V, relativity is far away: v_x = 2 v_d - v0 where v_y = 0, and F = e v_x B."""
    v0 = 1.3e7
    for drift in (0.3 * v0, 0.5 * v0, 0.8 * v0):
        far_point = trochoid(v0, -drift * 1e-3, -1e-3).far_point_speed
        assert far_point == pytest.approx(2 * drift - v0, abs=3e-3 * v0)
        is_cusp = abs(far_point) < 1e-2 * v0
        assert is_cusp == (drift == 0.5 * v0), "the magnetic force vanishes at the cusp only"
    assert "2E/B − v₀" in TurnBack.says
    assert "does not vanish" in TurnBack.says


def test_turning_points_are_found_between_samples():
    """y = sin(x) has its extremes at odd multiples of pi/2 (calculus)."""
    x = np.linspace(0, 3 * np.pi, 400)
    found = turning_points(x, np.sin(x))
    assert [place for place, _ in found] == pytest.approx(
        [np.pi / 2, 3 * np.pi / 2, 5 * np.pi / 2], abs=1e-3
    )
    assert [height for _, height in found] == pytest.approx([1, -1, 1], abs=1e-6)


@pytest.mark.parametrize("turns", [0.45, 0.6, 0.75, 1.0, 1.7])
def test_courses_count_periods(turns):
    """y = (1 - cos x) / 2 has the period 2 pi."""
    x = np.linspace(0, 2 * np.pi * turns, 800)
    found = course(x, (1 - np.cos(x)) / 2)
    assert found.turns == pytest.approx(turns, rel=0.1 if turns < 0.5 else 1e-4)
    if turns > 0.5:
        assert found.depth == pytest.approx(1.0, rel=1e-5)
        assert found.turning_x == pytest.approx(np.pi, abs=1e-3)
        assert found.regained == pytest.approx(1 - (1 - np.cos(x[-1])) / 2, abs=1e-3)


def test_a_course_that_is_far_from_turning_has_less_than_half_a_period():
    x = np.linspace(0, 1.5, 200)
    assert 0 < course(x, (1 - np.cos(x)) / 2).turns < 0.5


def test_a_dark_beam_meets_no_goal(deflection_tube, fine_beam_bulb, axial_coil_tube):
    for tube in (deflection_tube, fine_beam_bulb, axial_coil_tube):
        dark = Settings(accelerating_voltage=0.0)
        for goal in suitable_goals(tube.bench):
            check = goal.is_met(tube, dark)
            assert not check.ok
            assert check.shortcomings


@pytest.mark.parametrize("share", [0.9, 0.5])
def test_easier_goals_ask_for_less(share):
    assert PlateDeflection(0.09, 0.01).easier(share).height == pytest.approx(0.01 * share)
    assert FullCircle(0.04).easier(share).diameter == pytest.approx(0.04 / share)
    assert HelixFocus(1, 0.001).easier(share) is None
    assert HelixFocus(4, 0.001).easier(share).turns == math.floor(4 * share)
    assert 0.5 < TurnBack(0.01, 0.8).easier(share).turns < 0.8
    assert StraightBeam(0.09, 0.01).easier(share).plates_alone == pytest.approx(0.01 * share)
