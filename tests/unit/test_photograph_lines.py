"""Lines of photographs: what is said about poor ones, corrections, readings, overlay."""

from __future__ import annotations

import io
import json

import numpy as np
import pytest
from PIL import Image

from glowtrace.bench.checking import change
from glowtrace.bench.model import EndFace
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.demos.textbook import textbook_trace
from glowtrace.measure.photograph_readings import KnobReadings, circle_readings, line_readings
from glowtrace.measure.tables.readings import Reading
from glowtrace.photographs.circle import circle_of_line, fit_circle
from glowtrace.photographs.grid import fit_screen_map
from glowtrace.photographs.grid_finding import find_grid, refine_grid
from glowtrace.photographs.grid_lines import grey, printed_grid
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.overlay import overlay_png, predicted_polylines
from glowtrace.photographs.photograph import Photograph, PhotographError
from glowtrace.photographs.sway import sway_at
from glowtrace.photographs.synthetic import Camera, Conditions, CurveLight, take_photograph
from glowtrace.photographs.trace_line_correction import (
    add_point,
    move_point,
    remove_points,
    restore_points,
)
from glowtrace.photographs.trace_line_extraction import extract_line

SHEET = (0.010, -0.0225, 0.105, 0.0225)
CAMERA = Camera((0.0575, 0.0), 0.16, 0.3, 0.2, size=(800, 600), focal_length=870.0)
CLICKED = [(0.02, -0.02), (0.1, -0.02), (0.1, 0.02), (0.02, 0.02)]
U = np.linspace(0.0, 0.115, 300)
LIGHT = CurveLight(np.column_stack([U, 2.0 * (U - 0.01) ** 2 - 0.005]), 0.5e-3)


def taken(**conditions) -> Photograph:
    return take_photograph(LIGHT, CAMERA, SHEET, Conditions(**conditions))


def mapped(photograph, uncertainty=0.5):
    return fit_screen_map(photograph, CAMERA.clicks(CLICKED, uncertainty=uncertainty), SHEET)


def found(**conditions):
    photograph = taken(**conditions)
    return extract_line(photograph, mapped(photograph))


@pytest.fixture(scope="module")
def line():
    return found()


def topics(line):
    return {finding.topic for finding in line.findings}


@pytest.mark.parametrize("shape", ["single-valued", "loop"])
@pytest.mark.parametrize("seed", range(4))
def test_noise_alone_is_no_line(shape, seed):
    photograph = taken(exposure=0.0, full_electrons=800, read_noise=0.005, seed=seed)
    line = extract_line(photograph, mapped(photograph), shape=shape)
    assert not line.is_found
    assert line.findings[0].says == "no line brighter than the noise"
    assert json.loads(json.dumps(line.as_dict()))["points"] == []


def test_a_good_line_has_nothing_said_about_it(line):
    assert line.findings == ()
    assert len(line) > 80
    assert np.all(line.piece == 0)


@pytest.mark.parametrize("shape", ["single-valued", "loop"])
def test_a_hidden_part_is_named_where_it_is(shape):
    photograph = taken(hidden=((0.04, 0.05),))
    line = extract_line(photograph, mapped(photograph, 0.0), shape=shape)
    (broken,) = [each for each in line.findings if each.topic == "broken"]
    assert broken.says.startswith("line broken")
    assert broken.u_from == pytest.approx(0.04, abs=2e-3)
    assert broken.u_to == pytest.approx(0.05, abs=2e-3)
    assert set(line.piece) == {0, 1}
    u = line.places[:, 0]
    assert not np.any((u > 0.0405) & (u < 0.0495))


def test_a_saturated_line_says_so_and_is_trusted_less(line):
    bright = found(exposure=5.0)
    assert "saturated" in topics(bright)
    own = [np.median(np.trace(x.pixel_covariance, axis1=1, axis2=2)) for x in (bright, line)]
    assert own[0] > 2 * own[1]


def test_a_screen_that_is_cut_off_says_so():
    photograph = taken()
    cut = Photograph(photograph.pixels[:, : photograph.width * 3 // 5])
    whole = mapped(photograph, 0.0)
    clicks = [GridPoint(p.u, p.v, p.column, p.row, 0.5) for p in whole.points]
    line = extract_line(cut, fit_screen_map(cut, clicks, SHEET))
    assert "outside" in topics(line)
    assert line.places[:, 0].max() < 0.085


def test_points_can_be_moved_removed_restored_and_added(line):
    moved = move_point(line, 3, 200.0, 300.0, 2.0)
    assert moved.source[3] == "moved"
    assert moved.pixels[3].tolist() == [200.0, 300.0]
    assert moved.pixel_covariance[3].tolist() == [[4.0, 0.0], [0.0, 4.0]]
    removed = remove_points(moved, [5, 6])
    assert len(removed) == len(line)
    assert len(removed.kept) == len(line) - 2
    assert removed.findings[-1].says == "corrected by hand: 1 moved, 2 removed"
    assert np.array_equal(removed.pixels[5], line.pixels[5])
    assert len(restore_points(removed, [5, 6]).kept) == len(line)
    between = (line.pixels[10] + line.pixels[11]) / 2
    added = add_point(line, *between)
    assert added.source[11] == "added"
    assert len(added) == len(line) + 1
    said = json.loads(json.dumps(removed.as_dict()))
    assert said["points"][5]["is_removed"] is True
    assert said["points"][3]["source"] == "moved"
    assert said["points"][3]["width_m"] is None


def test_corrections_that_make_no_sense_are_refused(line):
    with pytest.raises(PhotographError, match=f"point {len(line)} is not there"):
        move_point(line, len(line), 1.0, 1.0)
    with pytest.raises(PhotographError, match="outside the photograph"):
        add_point(line, 5000.0, 1.0)
    with pytest.raises(PhotographError, match="uncertainty of 0 pixels"):
        move_point(line, 0, 1.0, 1.0, 0)


@pytest.mark.parametrize(
    ("points", "lens", "says"),
    [
        (CLICKED[:3], False, "3 grid points are too few; click 4"),
        (CLICKED, True, "click 6 or more with the lens's distortion"),
        ([(0.02, 0.0), (0.04, 0.0), (0.06, 0.0), (0.08, 0.0)], False, "in a line"),
        ([(0.02, 0.0), (0.04, 0.0), (0.06, 0.0), (0.08, 0.02)], False, "no three lie in a line"),
        ([*CLICKED[:3], CLICKED[0]], False, "same"),
    ],
)
def test_grid_points_that_fix_no_map_are_refused(points, lens, says):
    with pytest.raises(PhotographError, match=says):
        fit_screen_map(taken(), CAMERA.clicks(points, uncertainty=0.0), SHEET, lens=lens)


def test_mixed_up_grid_points_are_refused():
    clicks = list(CAMERA.clicks(CLICKED, uncertainty=0.0))
    swapped = [
        GridPoint(a.u, a.v, b.column, b.row)
        for a, b in zip(clicks, [clicks[n] for n in (1, 0, 3, 2)], strict=True)
    ]
    with pytest.raises(PhotographError, match="mixed up or mirrored"):
        fit_screen_map(taken(), swapped, SHEET)


@pytest.mark.slow
def test_a_grid_is_found_by_itself_where_it_shows():
    grid = printed_grid(ready_made("fine-beam bulb"))
    camera = Camera((0.0, 0.047), 0.3, 0.25, -0.15, 0.05, distortion=-0.04)
    t = np.linspace(0, 6, 300)
    light = CurveLight(np.column_stack([0.04 * np.cos(t), 0.04 + 0.04 * np.sin(t)]), 0.7e-3)
    conditions = Conditions(room_light=0.06, grid_pitch=grid.pitch)
    search = find_grid(grey(take_photograph(light, camera, grid.rectangle, conditions)), grid)
    assert search.screen_map is not None, search.says
    places = np.array([[u, v] for u in grid.u for v in grid.v])
    away = np.linalg.norm(search.screen_map.pixels(places) - camera.pixels(places), axis=1)
    assert away.max() < 0.5
    assert search.crossings > 0.5 * len(places)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("turn", "tilt", "room_light", "blur", "electrons"),
    [
        pytest.param(0.2, -0.3, 0.028, 1.2, 2000, marks=pytest.mark.thorough),
        pytest.param(-0.1, 0.1, 0.098, 1.2, 2000, marks=pytest.mark.thorough),
        pytest.param(-0.3, 0.2, 0.040, 1.7, 2000, marks=pytest.mark.thorough),
        (0.1, -0.1, 0.020, 1.0, 200),  # a pixel of the screen counts four electrons
    ],
    ids=["dim", "bright", "blurred", "faint"],
)
def test_the_grid_of_a_sheet_is_told_from_its_edge_and_from_the_trace(
    turn, tilt, room_light, blur, electrons
):
    # The outermost printed lines lie 2.5 mm from the edge, which is the clearest line of all.
    sheet = {"screen.x_from": 0.01, "screen.x_to": 0.105, "screen.height": 0.045}
    flat = {"screen.z_from": -0.005, "screen.z_to": 0.005}
    grid = printed_grid(change(ready_made("deflection tube"), {**sheet, **flat}))
    camera = Camera((0.0575, 0.0), 0.19, turn, tilt, 0.04, distortion=-0.02, focal_length=1300.0)
    conditions = Conditions(
        room_light=room_light, blur=blur, full_electrons=electrons, grid_pitch=grid.pitch
    )
    search = find_grid(grey(take_photograph(LIGHT, camera, grid.rectangle, conditions)), grid)
    assert search.screen_map is not None, search.says
    places = np.array([[u, v] for u in grid.u for v in grid.v])
    away = np.linalg.norm(search.screen_map.pixels(places) - camera.pixels(places), axis=1)
    assert away.max() < 1.0


@pytest.mark.slow
@pytest.mark.parametrize("room_light", [0.03, pytest.param(0.1, marks=pytest.mark.thorough)])
def test_a_grid_is_found_rightly_or_not_at_all(room_light):
    # Here the outermost lines lie so near the edge that a wrong labelling nearly fits.
    grid = printed_grid(ready_made("deflection tube"))
    camera = Camera((0.0575, 0.0), 0.19, -0.1, 0.1, 0.04, distortion=-0.02, focal_length=1300.0)
    conditions = Conditions(room_light=room_light, blur=1.2, grid_pitch=grid.pitch)
    search = find_grid(grey(take_photograph(LIGHT, camera, grid.rectangle, conditions)), grid)
    if search.screen_map is None:
        assert "click" in search.says
        return
    places = np.array([[u, v] for u in grid.u for v in grid.v])
    away = np.linalg.norm(search.screen_map.pixels(places) - camera.pixels(places), axis=1)
    assert away.max() < 1.0


@pytest.mark.slow
def test_a_grid_that_does_not_show_needs_clicks():
    grid = printed_grid(ready_made("deflection tube"))
    photograph = taken()
    search = find_grid(grey(photograph), grid)
    assert search.screen_map is None
    assert search.says.startswith("the grid was not found")
    assert search.says.endswith("click four or more grid points")
    assert refine_grid(grey(photograph), mapped(photograph), grid).screen_map is None


def test_clicks_are_improved_by_the_printed_lines():
    grid = printed_grid(ready_made("deflection tube"))
    conditions = Conditions(room_light=0.06, grid_pitch=grid.pitch)
    photograph = take_photograph(LIGHT, CAMERA, grid.rectangle, conditions)
    rough = fit_screen_map(photograph, CAMERA.clicks(CLICKED, uncertainty=2.0), grid.rectangle)
    search = refine_grid(grey(photograph), rough, grid)
    assert search.screen_map is not None, search.says
    places = np.array([[u, v] for u in grid.u for v in grid.v])

    def away(screen_map):
        return np.linalg.norm(screen_map.pixels(places) - CAMERA.pixels(places), axis=1).max()

    assert away(search.screen_map) < 0.5 < away(rough)


def test_a_line_becomes_readings_that_share_the_maps_errors(line):
    bench = ready_made("deflection tube")
    knobs = KnobReadings(Reading(3000.0), plate_voltage=Reading(800.0))
    table = line_readings(line, bench.screen, knobs)
    assert table.method == "plates only"
    assert len(table.rows) == 25
    assert table.faults == {}
    # x as it is read along the printed grid: the fit turns it into x in space, once.
    assert table.values("x").max() == pytest.approx(line.places[:, 0].max(), rel=1e-9)
    # What the cell has and what the map adds are together the whole uncertainty of the point.
    for name, axis in (("x", 0), ("y", 1)):
        shared = sway_at(table.instrument(name).sway, table.values("x"), table.values("y"))
        whole = np.hypot(table.uncertainties(name), np.sqrt((shared**2).sum(axis=0)))
        kept = np.rint(np.linspace(0, len(line) - 1, 25)).astype(int)
        assert whole == pytest.approx(np.sqrt(line.covariance[kept, axis, axis]), rel=0.01)
    assert np.all(table.uncertainties("x") >= 0)


def test_readings_need_one_deflection_and_a_line(line):
    screen = ready_made("deflection tube").screen
    with pytest.raises(PhotographError, match="either the plate voltage or the coil current"):
        line_readings(line, screen, KnobReadings(Reading(3000.0)))
    face = EndFace(kind="end face", x=0.2, width=0.04, height=0.04, grid_pitch=0.005)
    with pytest.raises(PhotographError, match="end face shows a spot"):
        line_readings(line, face, KnobReadings(Reading(3000.0), coil_current=Reading(1.0)))
    gone = remove_points(line, range(len(line)))
    with pytest.raises(PhotographError, match="no points that count"):
        line_readings(gone, screen, KnobReadings(Reading(3000.0), coil_current=Reading(1.0)))


def test_a_circle_becomes_one_reading():
    angle = np.linspace(0, 6, 40)
    circle = fit_circle(0.04 * np.column_stack([np.cos(angle), np.sin(angle)]),
                        np.tile(1e-10 * np.eye(2), (40, 1, 1)))  # fmt: skip
    table = circle_readings(circle, KnobReadings(Reading(200.0), coil_current=Reading(1.5)))
    assert table.faults == {}
    assert table.values("diameter")[0] == pytest.approx(0.08, rel=1e-9)
    assert table.uncertainties("diameter")[0] == circle.diameter_uncertainty
    assert json.loads(json.dumps(circle.as_dict()))["diameter_m"] == circle.diameter
    with pytest.raises(PhotographError, match="needs the coil current"):
        circle_readings(circle, KnobReadings(Reading(200.0)))


def test_points_that_make_no_circle_are_refused_and_short_arcs_told(line):
    with pytest.raises(PhotographError, match="3 points do not fix a circle"):
        fit_circle(np.eye(3)[:, :2])
    with pytest.raises(PhotographError, match="straight line"):
        fit_circle([[0, 0], [1, 1], [2, 2], [3, 3]])
    assert any("of the circle are seen" in says for says in circle_of_line(line).findings)


def test_the_predicted_trace_lies_where_the_camera_sees_it(deflection_tube):
    photograph = taken()
    screen_map = fit_screen_map(photograph, CAMERA.clicks(CLICKED, uncertainty=0.0), SHEET)
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=500.0)
    textbook = textbook_trace(deflection_tube.bench, settings)
    (polyline,) = predicted_polylines(textbook, screen_map)
    inside = (textbook.u >= SHEET[0]) & (textbook.u <= SHEET[2] + 1e-9)
    expected = CAMERA.pixels(np.column_stack([textbook.u, textbook.v])[inside])
    assert polyline == pytest.approx(expected, abs=1e-3)
    picture = deflection_tube.picture(settings, electrons=2000)
    assert len(predicted_polylines(picture, screen_map)) == 1


def test_the_overlay_is_a_png_of_the_same_size_with_something_drawn(line):
    photograph = taken()
    drawn = overlay_png(photograph, line=remove_points(line, [0]), screen_map=line.screen_map)
    image = Image.open(io.BytesIO(drawn))
    assert image.size == (800, 600)
    changed = (np.asarray(image) != photograph.pixels).any(axis=2)
    near = np.rint(line.pixels).astype(int)
    assert changed[near[10, 1] - 4 : near[10, 1] + 5, near[10, 0] - 4 : near[10, 0] + 5].any()
