"""One answer to the question what a picture is: maps, single pictures and goals agree.

The rules are the project's own. What is checked is that nobody tells the same picture otherwise,
and that the kinds are those of pictures whose course is known beforehand.
"""

from dataclasses import replace

import numpy as np
import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import FOCUSES, KINDS, Classifier
from glowtrace.demos.goals import FullCircle, HelixFocus, StraightBeam, TurnBack
from glowtrace.demos.lines import is_straight, is_turn, picture_line, read_lines
from glowtrace.demos.readouts import read
from glowtrace.explain.spread import find_spread
from glowtrace.plan import outcome_map
from glowtrace.units import format_quantity

SIZE = (9, 8)
ELECTRONS = 160


def _map_of(tube, electrons=ELECTRONS):
    """A map across the whole ranges of the two knobs that matter, with opposing polarities."""
    bench = tube.bench
    across = "coil_current"
    up = "plate_voltage" if bench.plates else "accelerating_voltage"
    high = knob_ranges(bench)["accelerating_voltage"].high
    ranges = {knob: knob_ranges(bench)[knob][:2] for knob in (across, up)}
    if bench.plates:  # where crossed fields do something
        ranges = {across: (0.0, 0.15 * ranges[across][1]), up: (0.0, 0.35 * ranges[up][1])}
    return outcome_map(
        tube, Settings(accelerating_voltage=0.6 * high, coil_reversed=bench.plates is not None),
        across, up, x_range=ranges[across], y_range=ranges[up], size=SIZE, electrons=electrons,
    )  # fmt: skip


def test_a_spot_has_one_size_wherever_it_is_told(axial_coil_tube):
    settings = Settings(accelerating_voltage=600.0, coil_current=0.3)
    picture = axial_coil_tube.picture(settings, electrons=2000)
    told = read(axial_coil_tube, picture, 0.2).width
    # Two standard deviations: numpy's, of all landings, both directions together.
    assert told == pytest.approx(2.0 * np.sqrt(np.var(picture.landings, axis=0).mean()), rel=1e-9)
    judged = HelixFocus(turns=1, spot=1.0).is_met(axial_coil_tube, settings, electrons=2000)
    assert judged.figures[0].value == pytest.approx(told, rel=1e-9)
    explained = find_spread(axial_coil_tube, settings)
    assert explained is not None
    assert explained.width == pytest.approx(told, rel=0.01)


@pytest.fixture(scope="module", params=["deflection_tube", "fine_beam_bulb", "axial_coil_tube"])
def mapped(request):
    tube = request.getfixturevalue(request.param)
    return tube, _map_of(tube)


def _points(outcome):
    for row, y in enumerate(outcome.y):
        for column, x in enumerate(outcome.x):
            settings = outcome.settings.model_copy(
                update={outcome.knob_x: float(x), outcome.knob_y: float(y)}
            )
            yield settings, KINDS[outcome.codes[row, column]]


def _goal_for(tube, settings):
    """A goal of each kind that asks for just what these settings show."""
    bench = tube.bench
    if bench.screen.kind == "gas glow":
        goal = FullCircle(0.04)
        diameter = goal.is_met(tube, settings, electrons=ELECTRONS).measured[0]
        return [] if np.isnan(diameter) else [(replace(goal, diameter=diameter), "full circle")]
    if bench.screen.kind == "end face":
        goal = HelixFocus.for_bench(bench)
        return [(replace(goal, turns=n), FOCUSES[n - 1]) for n in (1, 2, 3)]
    null, back = StraightBeam.for_bench(bench), TurnBack.for_bench(bench)
    turns, depth = back.is_met(tube, settings, electrons=ELECTRONS).measured
    goals = [(replace(null, plates_alone=1e-6), "null")]
    if turns > 0.5 and depth > 0:
        goals.append((replace(back, turns=turns, depth=depth), "turns back"))
    return goals


def test_maps_pictures_and_goals_call_the_same_thing_by_the_same_name(mapped):
    tube, outcome = mapped
    classifier = Classifier(tube)
    met = set()
    for settings, told in _points(outcome):
        picture = tube.picture(settings, electrons=ELECTRONS)
        assert classifier.of_picture(picture) == told, settings
        for goal, kind in _goal_for(tube, settings):
            check = goal.is_met(tube, settings, electrons=ELECTRONS)
            has_room = all(f.is_right for f in check.figures if f.name.startswith("room"))
            assert check.ok == (told == kind and has_room), (settings, told, check)
            met.add(check.ok)
    assert True in met, "the grid has no point that meets a goal"


def test_few_electrons_tell_nearly_the_same_as_many(mapped):
    tube, many = mapped
    few = _map_of(tube, electrons=32)
    same = few.codes == many.codes
    assert same.mean() >= 0.9


def test_a_sheet_narrower_than_the_beam_still_shows_full_lines(deflection_tube):
    """Electrons that pass beside the sheet, along z, say nothing about the line."""
    bench = change(deflection_tube.bench, {"screen.z_from": -0.0035, "screen.z_to": 0.0035})
    narrow = PreparedBench(bench, deflection_tube.fields, deflection_tube.earth)
    settings = Settings(accelerating_voltage=3000.0)
    picture = narrow.picture(settings, electrons=400)
    assert picture.ends["screen"] < 0.8 * 400
    assert Classifier(narrow).of_picture(picture) == "full line"


def test_lines_are_read_off_landings():
    """Of y = a sin(k x) from 0 the depth is a, and the comeback the fall to the end (calculus)."""
    from glowtrace.bench.ready_made import ready_made

    bench = ready_made("deflection tube")
    x = np.linspace(0.01, 0.09, 60)
    noise = 0.0004 * np.where(np.arange(60) % 2, 1.0, -1.0)  # half a width of 2 sigma = 0.8 mm
    courses = np.stack([
        -0.005 * np.sin(np.pi * (x - 0.01) / 0.1),  # turns, comes back by 5 (1 - sin(0.8 pi)) mm
        -0.005 * np.sin(np.pi * (x - 0.01) / 0.16),  # only just at its lowest
        np.zeros_like(x),
    ])  # fmt: skip
    places = np.stack([np.broadcast_to(x, courses.shape), courses + noise], axis=2)
    lines = read_lines(bench, places, np.ones(courses.shape, dtype=bool), 0.09)
    assert lines.width == pytest.approx(0.8e-3, rel=0.1)
    assert lines.depth[:2] == pytest.approx(-0.005, rel=0.03)
    assert lines.comeback[0] == pytest.approx(0.005 * (1 - np.sin(0.8 * np.pi)), rel=0.08)
    assert list(is_turn(lines)) == [True, False, False]
    assert list(is_straight(lines)) == [False, False, True]


def test_weak_fields_are_no_null(deflection_tube):
    weak = Settings(
        accelerating_voltage=3000.0, plate_voltage=5.0, coil_current=1e-3, coil_reversed=True
    )
    picture = deflection_tube.picture(weak, electrons=ELECTRONS)
    line = picture_line(deflection_tube.bench, picture, 0.09)
    assert is_straight(line)[0]
    assert Classifier(deflection_tube).of_picture(picture) == "full line"


def test_the_order_of_a_focus_follows_current_over_the_root_of_the_voltage(axial_coil_tube):
    """B = 2 pi n m v / (e L): the turns go as I / sqrt(V) where electrons are slow (textbooks)."""
    classifier = Classifier(axial_coil_tube)
    one = classifier.turns_at(Settings(accelerating_voltage=200.0, coil_current=0.5))
    assert classifier.turns_at(
        Settings(accelerating_voltage=200.0, coil_current=1.0, coil_reversed=True)
    ) == pytest.approx(2 * one)
    assert classifier.turns_at(
        Settings(accelerating_voltage=800.0, coil_current=1.0)
    ) == pytest.approx(one, rel=1e-3)
    exact = HelixFocus(1, 1e-3).measure(
        axial_coil_tube, Settings(accelerating_voltage=200.0, coil_current=0.5 / one)
    )[0]
    assert exact == pytest.approx(1.0, abs=0.1), format_quantity(one, "1")
