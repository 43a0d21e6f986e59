"""The height of one line at one place is one number, whoever tells it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.computed_line import computed_line
from glowtrace.bench.electron import drawing
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.plate_deflection import PlateDeflection
from glowtrace.demos.readouts import read
from glowtrace.explain.differences import find_differences
from glowtrace.explain.explanation import explain
from glowtrace.measure.observing import Knobs, observe
from glowtrace.measure.tracer import Tracer
from glowtrace.measure.tube import nominal_tube
from glowtrace.photographs.grid import fit_map
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.report.worksheets.tube import height_at
from glowtrace.web.camera.lying_over import lying_over
from glowtrace.web.faults.sketch import expected_pieces
from glowtrace.web.measure.photograph_work import predicted_lines
from glowtrace.web.showing import TURNING, Setup, compute_showing

UP = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)
SAME = 1e-9
"""m."""
DRAWN = 1e-6
"""m: as far as a line is interpolated between electrons, a thousandth of what is told."""


def corner_points(rectangle):
    """The corners of a screen, seen square on with 10 pixels a millimetre."""
    u0, v0, u1, v1 = rectangle
    return [GridPoint(u, v, 1e4 * (u - u0), 1e4 * (v1 - v)) for u in (u0, u1) for v in (v0, v1)]


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


@pytest.mark.parametrize(
    "settings",
    [
        UP,
        Settings(accelerating_voltage=1600.0, plate_voltage=450.0, coil_current=0.062,
                 coil_reversed=True),
        Settings(accelerating_voltage=2500.0, coil_current=0.3),
    ],
    ids=["plates", "crossed", "coils, up to a plate"],
)  # fmt: skip
def test_one_computed_line_on_every_page_and_in_a_film(deflection_tube, settings):
    plane = deflection_tube.plane
    u = np.linspace(plane.extent[0], plane.extent[1], 41)
    heights = [deflection_tube.line_height(settings, plane.x_of(each)) for each in u]
    line = computed_line(deflection_tube, settings)
    found = line.at(u)
    # It ends where the electrons that are flown do, within half a millimetre of path.
    assert (np.isfinite(found) == np.isfinite(heights)).sum() >= 40
    known = np.isfinite(found) & np.isfinite(heights)
    assert found[known] == pytest.approx(np.array(heights)[known], abs=DRAWN)
    # On Camera, on Faults, in a lesson, over a photograph, kept to compare with on Rehearse.
    over = lying_over(deflection_tube, settings, None, is_resting=True)
    assert over.line.at(u) == pytest.approx(found, abs=SAME, nan_ok=True)
    for piece in (expected_pieces(deflection_tube, settings)[0], line.first_piece):
        assert piece[:, 1] == pytest.approx(line.at(piece[:, 0]), abs=SAME)
    screen_map = fit_map((1000, 500), corner_points(plane.rectangle), plane.rectangle)
    pixels = np.concatenate(predicted_lines(deflection_tube, settings, screen_map))
    photographed = screen_map.places(pixels)
    assert photographed[:, 1] == pytest.approx(line.at(photographed[:, 0]), abs=1e-8)
    setup = Setup(deflection_tube, UP, "bench", plane.first_read_x, beside=settings)
    held = compute_showing(setup, TURNING).held
    held = held[np.isfinite(held).all(axis=1)]
    assert held[:, 1] == pytest.approx(line.at(held[:, 0]), abs=SAME)


def test_computed_line_where_it_turns_back(deflection_tube):
    settings = Settings(accelerating_voltage=300.0, plate_voltage=1000.0, coil_current=0.8,
                        coil_reversed=True)  # fmt: skip
    line = computed_line(deflection_tube, settings)
    piece = line.first_piece
    assert not line.is_rising
    turn = deflection_tube.line_turn(settings)
    # The line is level where it turns: there its height is that of the turning point, but for the
    # sagitta of half a millimetre on a circle of 8 mm, l^2 / 8 r.
    assert np.abs(line.v - turn).min() < 4e-6
    for u, v in piece[:: len(piece) // 20]:
        x = deflection_tube.plane.x_of(float(u))
        path = deflection_tube.fly(settings, drawing(deflection_tube.bench, x))
        assert np.abs(path.position[:, :2] - [x, v]).max(axis=1).min() < 0.3e-3


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
