"""The height of one line at one place is one number, whoever tells it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.electron import drawing
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.plate_deflection import PlateDeflection
from glowtrace.demos.readouts import read
from glowtrace.explain.differences import find_differences
from glowtrace.explain.explanation import explain
from glowtrace.measure.observing import Knobs, observe
from glowtrace.measure.tracer import Tracer
from glowtrace.measure.tube import nominal_tube
from glowtrace.report.worksheets.tube import height_at

UP = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)
SAME = 1e-9
"""m."""


@pytest.mark.parametrize("share", [0.4, 0.7, 0.95])
def test_readouts_goals_measuring_and_worksheets_agree(deflection_tube, share):
    screen = deflection_tube.bench.screen
    x = screen.x_from + share * (screen.x_to - screen.x_from)
    height = deflection_tube.line_height(UP, x)
    picture = deflection_tube.picture(UP, electrons=2000)
    assert read(deflection_tube, picture, x).deflection == pytest.approx(height, abs=SAME)
    goal = PlateDeflection(x=x, height=height)
    assert goal.measure(deflection_tube, UP)[0] == pytest.approx(height, abs=SAME)
    check = goal.is_met(deflection_tube, UP)
    assert check.measured[0] == pytest.approx(height, abs=SAME)
    tube = nominal_tube(deflection_tube.bench, "bench", earth=deflection_tube.earth.tolist())
    seen = observe("plates only", Tracer(deflection_tube), tube, Knobs(3000.0, 900.0, x=x))
    assert seen.value == pytest.approx(height, abs=SAME)
    assert height_at(deflection_tube, UP, x) == pytest.approx(height, abs=SAME)


def test_explaining_tells_the_same_height_at_the_end_of_the_sheet(deflection_tube):
    x = deflection_tube.bench.screen.x_to
    height = deflection_tube.line_height(UP, x)
    assert explain(deflection_tube, UP).ray.height_at(x) == pytest.approx(height, abs=1e-7)
    found = find_differences(deflection_tube, UP)
    assert found is not None
    # Another integrator, in the same fields.
    assert found.bench == pytest.approx(height, abs=2e-7)


@pytest.mark.slow
def test_picture_scatters_about_the_height_of_the_line(deflection_tube):
    """The middle of many electrons, which the height does not use, lies by the line's own."""
    screen = deflection_tube.bench.screen
    picture = deflection_tube.picture(UP, electrons=200_000)
    for share in (0.4, 0.7, 0.9):
        x = screen.x_from + share * (screen.x_to - screen.x_from)
        found = picture.mean_trace.at(x / math.cos(screen.angle))
        assert found is not None
        middle, width = found
        assert abs(middle - deflection_tube.line_height(UP, x)) < 0.1 * width


def test_electron_that_draws_the_line_meets_the_sheet_there(deflection_tube):
    screen = deflection_tube.bench.screen
    for x in np.linspace(screen.x_from, screen.x_to, 5)[1:].tolist():
        path = deflection_tube.fly(UP, drawing(deflection_tube.bench, x), through="nothing")
        assert path.end == "screen"
        # Fields push it aside by some 0.06 mm on its way, and it grazes the sheet.
        assert path.position[-1, 0] == pytest.approx(x, abs=1e-3)


def test_diameter_of_a_circle_is_one_number(fine_beam_bulb):
    knobs = Knobs(200.0, coil_current=1.4)
    settings = Settings(accelerating_voltage=200.0, coil_current=1.4)
    diameter = abs(fine_beam_bulb.fly(settings).far_height())
    tube = nominal_tube(fine_beam_bulb.bench, "bench", earth=fine_beam_bulb.earth.tolist())
    seen = observe("circle", Tracer(fine_beam_bulb), tube, knobs)
    assert seen.value == pytest.approx(diameter, abs=SAME)
    found = find_differences(fine_beam_bulb, settings)
    assert found is not None
    assert found.bench == pytest.approx(diameter, abs=2e-7)


def test_no_line_has_no_height(deflection_tube):
    cold = UP.model_copy(update={"heater_on": False})
    assert math.isnan(deflection_tube.line_height(cold, 0.05))
    # Bent so strongly that it ends on a plate before the place.
    strong = Settings(accelerating_voltage=1000.0, plate_voltage=2000.0)
    assert math.isnan(deflection_tube.line_height(strong, 0.1))
    assert not math.isnan(deflection_tube.line_height(strong, 0.1, through="walls"))
