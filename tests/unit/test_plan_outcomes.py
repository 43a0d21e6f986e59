"""Maps of what happens: agreement with single pictures, streaming, cancelling, ratings drawn.

A map is checked against the forward model's own pictures at points of it; the fields' signs against
the convention that a positive upper plate pulls the beam up (Coulomb's law).
"""

import json

import numpy as np
import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import FOCUSES, KINDS
from glowtrace.demos.goals import HelixFocus, StraightBeam, TurnBack
from glowtrace.errors import GlowtraceError
from glowtrace.plan import (
    NOT_YET,
    forbidden,
    outcome_map,
    plan_goal,
    telling_map,
)

CROSSED = Settings(accelerating_voltage=1600.0, coil_reversed=True)


@pytest.fixture(scope="module")
def crossed_map(deflection_tube):
    return outcome_map(
        deflection_tube, CROSSED, "plate_voltage", "coil_current", y_range=(0.0, 1.0), size=(24, 20)
    )


def test_maps_say_where_most_of_the_beam_ends(deflection_tube, crossed_map):
    ends = {
        "hits the upper plate": ("upper plate",),
        "hits the lower plate": ("lower plate",),
        "leaves the screen": ("glass", "left the field map"),
        "full line": ("screen",),
        "turns back": ("screen",),
        "null": ("screen",),
    }
    checked = set()
    for row in range(0, 20, 3):
        for column in range(0, 24, 3):
            x, y = float(crossed_map.x[column]), float(crossed_map.y[row])
            outcome = crossed_map.labels[crossed_map.codes[row, column]]
            turned = CROSSED.model_copy(update={"plate_voltage": x, "coil_current": y})
            found = deflection_tube.picture(turned, electrons=200).ends
            share = sum(found.get(end, 0) for end in ends[outcome]) / 200
            least = {"full line": 0.8, "null": 0.8, "turns back": 0.5}.get(outcome, 0.03)
            assert share > least, (x, y, outcome, found)
            checked.add(outcome)
    assert len(checked) >= 4


def test_plates_alone_pull_up_and_coils_alone_push_down(crossed_map):
    assert crossed_map.at(4800.0, 0.0) == "hits the upper plate"
    assert crossed_map.at(0.0, 1.0) == "hits the lower plate"
    assert crossed_map.at(0.0, 0.0) == "full line"


def test_switches_turn_the_map_over(deflection_tube):
    up = outcome_map(deflection_tube, CROSSED, "plate_voltage", "coil_current", size=(8, 8))
    other = CROSSED.model_copy(update={"coil_reversed": False, "plate_reversed": True})
    down = outcome_map(deflection_tube, other, "plate_voltage", "coil_current", size=(8, 8))
    assert up.at(4800.0, 0.0) == "hits the upper plate"
    assert down.at(4800.0, 0.0) == "hits the lower plate"
    assert down.shares["hits the upper plate"] == pytest.approx(
        up.shares["hits the lower plate"], abs=0.1
    )


def test_planned_nulls_and_turn_backs_are_on_the_map(deflection_tube):
    for goal in (
        StraightBeam.for_bench(deflection_tube.bench),
        TurnBack.for_bench(deflection_tube.bench),
    ):
        plan = plan_goal(deflection_tube, goal, answers=1).answers[0]
        settings = plan.settings
        across, current = settings.plate_voltage, settings.coil_current
        found = outcome_map(
            deflection_tube, settings, "plate_voltage", "coil_current", electrons=200,
            x_range=(0.999 * across, 1.001 * across), y_range=(0.999 * current, 1.001 * current),
            size=(2, 2),
        )  # fmt: skip
        expected = {"null": "null", "turn-back": "turns back"}[goal.name]
        assert set(found.shares) == {expected}


def test_the_bulb_has_full_circles_and_glass(fine_beam_bulb):
    found = outcome_map(
        fine_beam_bulb,
        Settings(accelerating_voltage=200.0),
        "accelerating_voltage",
        "coil_current",
        size=(10, 12),
    )
    assert found.at(200.0, 1.5) == "full circle"
    assert found.at(200.0, 0.3) == "hits the glass"


def test_the_axial_coil_focuses_at_the_planned_current(axial_coil_tube):
    plan = plan_goal(axial_coil_tube, HelixFocus(1, 0.0009), answers=1).answers[0]
    voltage, current = plan.settings.accelerating_voltage, plan.settings.coil_current
    found = outcome_map(
        axial_coil_tube, plan.settings, "coil_current", "accelerating_voltage",
        x_range=(0.5 * current, 1.5 * current), y_range=(voltage, 1.01 * voltage), size=(41, 2),
    )  # fmt: skip
    assert found.at(current, voltage) == FOCUSES[0]
    assert found.at(0.6 * current, voltage) == "spot on the screen"


def test_ideal_maps_use_the_ideal_fields(deflection_tube):
    found = outcome_map(
        deflection_tube, CROSSED, "plate_voltage", "coil_current", size=(6, 6), model="ideal"
    )
    assert found.model == "ideal"
    assert found.at(4800.0, 0.0) == "hits the upper plate"


def test_a_cold_gun_gives_no_beam(deflection_tube):
    cold = CROSSED.model_copy(update={"heater_on": False})
    found = outcome_map(deflection_tube, cold, "plate_voltage", "coil_current", size=(3, 3))
    assert found.shares == {"no beam": 1.0}


def test_rows_stream_and_cover_the_map_early(deflection_tube):
    rows, fractions = [], []
    found = outcome_map(
        deflection_tube, CROSSED, "plate_voltage", "coil_current", size=(6, 16),
        on_row=rows.append, progress=lambda fraction, _: fractions.append(fraction),
    )  # fmt: skip
    assert sorted(row.number for row in rows) == list(range(16))
    assert max(row.number for row in rows[:4]) >= 8
    assert fractions == pytest.approx([n / 16 for n in range(1, 17)])
    for row in rows:
        assert np.array_equal(found.codes[row.number], row.codes)
    assert found.is_complete


def test_a_cancelled_map_comes_back_as_far_as_it_is(deflection_tube):
    done = []
    found = outcome_map(
        deflection_tube, CROSSED, "plate_voltage", "coil_current", size=(6, 40),
        on_row=done.append, cancelled=lambda: len(done) >= 5,
    )  # fmt: skip
    assert not found.is_complete
    finished = (found.codes != NOT_YET).all(axis=1)
    assert finished.sum() == len(done) < 40
    assert (found.codes[~finished] == NOT_YET).all()
    number = int(np.flatnonzero(~finished)[0])
    assert found.at(0.0, float(found.y[number])) is None


def test_maps_do_not_depend_on_who_computes_them(deflection_tube):
    first, second = (
        outcome_map(deflection_tube, CROSSED, "plate_voltage", "coil_current", size=(10, 10))
        for _ in range(2)
    )
    assert np.array_equal(first.codes, second.codes)
    json.dumps(first.as_dict())
    assert first.as_dict()["x_v"][0] == 0.0
    assert first.labels == KINDS


def test_ratings_are_drawn(deflection_tube):
    found = outcome_map(
        deflection_tube, CROSSED, "plate_voltage", "coil_current",
        x_range=(0.0, 6000.0), y_range=(0.0, 3.0), size=(3, 3),
    )  # fmt: skip
    lines = {line.text: (line.start, line.end) for line in found.ratings}
    assert lines["the plates are rated 4.8 kV"] == ((4800.0, 0.0), (4800.0, 3.0))
    assert lines["the coil pair is rated 1.9 A"] == ((0.0, 1.9), (6000.0, 1.9))
    assert forbidden(deflection_tube, found, 5500.0, 1.0)[0] == "the plates are rated 4.8 kV"
    assert forbidden(deflection_tube, found, 4500.0, 1.0) == ()


def test_a_shared_supply_draws_a_slanting_line(deflection_tube):
    bench = change(deflection_tube.bench, {"supplies.plates": None})
    tube = PreparedBench(bench, deflection_tube.fields, deflection_tube.earth)
    shared = Settings(
        accelerating_voltage=3000.0, plate_source="accelerating supply", plate_tie="upper at anode"
    )
    found = outcome_map(tube, shared, "accelerating_voltage", "plate_voltage", size=(3, 3))
    line = next(line for line in found.ratings if "share" in line.text)
    assert line.start == (450.0, 450.0)
    assert line.end == (4800.0, 4800.0)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"knob_y": "plate_voltage"}, "choose two of"),
        ({"knob_y": "gas"}, "choose two of"),
        ({"size": (1, 5)}, "size"),
        ({"electrons": 2}, "electrons"),
        ({"x_range": (5.0, 1.0)}, "the lower first"),
        ({"knob_x": "accelerating_voltage", "x_range": (-5.0, 1.0)}, "between 0 and"),
    ],
)
def test_maps_that_make_no_sense_are_refused(deflection_tube, changes, told):
    asked = {"knob_x": "plate_voltage", "knob_y": "coil_current", "size": (3, 3)} | changes
    with pytest.raises(GlowtraceError, match=told):
        outcome_map(deflection_tube, CROSSED, **asked)


def test_values_below_zero_are_those_of_the_other_polarity(deflection_tube):
    both = outcome_map(
        deflection_tube, CROSSED, "plate_voltage", "coil_current",
        x_range=(-800.0, 800.0), y_range=(-0.3, 0.3), size=(9, 7),
    )  # fmt: skip
    quarter = outcome_map(
        deflection_tube, CROSSED.model_copy(update={"plate_reversed": True}),
        "plate_voltage", "coil_current", x_range=(0.0, 800.0), y_range=(0.0, 0.3), size=(5, 4),
    )  # fmt: skip
    assert np.array_equal(both.codes[3:, 4::-1], quarter.codes)
    assert not both.ratings
    turned = CROSSED.turned(plate_voltage=-200.0, coil_current=-0.1)
    assert (turned.plate_voltage, turned.plate_reversed) == (200.0, True)
    assert (turned.coil_current, turned.coil_reversed) == (0.1, not CROSSED.coil_reversed)


@pytest.mark.slow
def test_a_first_map_shows_where_the_outcome_changes(deflection_tube, fine_beam_bulb):
    same_way = CROSSED.model_copy(update={"coil_reversed": False})
    wide = outcome_map(deflection_tube, same_way, "plate_voltage", "coil_current", size=(30, 30))
    assert max(wide.shares.values()) > 0.6
    chosen = telling_map(deflection_tube, same_way, "plate_voltage", "coil_current")
    found = outcome_map(
        deflection_tube, chosen.settings, "plate_voltage", "coil_current",
        x_range=chosen.x_range, y_range=chosen.y_range, size=(60, 60),
    )  # fmt: skip
    assert max(found.shares.values()) < 0.6
    assert found.shares["null"] > 0.005
    assert found.shares["turns back"] > 0.005
    bulb = telling_map(
        fine_beam_bulb, Settings(accelerating_voltage=200.0), "accelerating_voltage",
        "coil_current",
    )  # fmt: skip
    assert bulb.x_range[0] > 0


def test_a_knob_without_its_apparatus_is_refused(axial_coil_tube):
    with pytest.raises(GlowtraceError, match="the bench has no plates"):
        outcome_map(
            axial_coil_tube,
            Settings(accelerating_voltage=500.0),
            "plate_voltage",
            "coil_current",
            size=(3, 3),
        )
