"""Sweeps: closed forms along a whole range, the same numbers as a single picture, refusals.

Closed forms: a parabola between plates, y = V x^2 / (4 V_a d) for slow electrons, and the diameter
of a circle, 2 p / (e B) with p from relativistic energy (D. J. Griffiths, "Introduction to
Electrodynamics", 4th ed. 2013, secs. 5.1.2 and 12.2.4; written from memory). Constants: CODATA of
scipy.
"""

from __future__ import annotations

import csv
import io
import json
import math

import numpy as np
import pytest
from matplotlib.figure import Figure
from scipy import constants

from glowtrace import (
    GlowtraceError,
    Settings,
    prepare,
    ready_made,
    ready_made_names,
    sweep,
    textbook_trace,
)
from glowtrace.bench.checking import change
from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.picture import MeanTrace, Picture
from glowtrace.cli import run
from glowtrace.cli.doubts import read_place
from glowtrace.demos.readouts import read
from glowtrace.errors import RatingError
from glowtrace.report.figure import plot_picture, plot_textbook, plot_trace
from glowtrace.report.output import PICTURE_ENDINGS
from glowtrace.report.sweep_figure import plot_sweep, save_sweep, sweep_caption
from glowtrace.sweeps.brightness import middle_brightness
from glowtrace.watching import GivenUpError

SLOW = Settings(accelerating_voltage=3000.0)


def test_heights_between_plates_follow_the_parabola(deflection_tube):
    volts = np.linspace(-900.0, 900.0, 7)
    at = 0.06
    made = sweep(deflection_tube, SLOW, plate_voltage=volts, at=at, model="ideal")
    plates = deflection_tube.bench.plates
    inside = at - plates.start
    assert 0.0 < inside < plates.length
    # To first order in V/mc^2 a fast electron is bent by 1 + V / (2 mc^2) more: 0.3 % at 3 kV.
    slow = volts * inside**2 / (4.0 * 3000.0 * plates.gap)
    fast = 1.0 + 3000.0 * constants.e / (2.0 * constants.m_e * constants.c**2)
    assert made["height_m"] == pytest.approx(slow * fast, rel=2e-5, abs=1e-9)
    assert made["textbook_height_m"] == pytest.approx(made["height_m"], abs=1e-9)


def test_circles_follow_momentum_over_charge_and_flux(fine_beam_bulb):
    amperes, volts = np.array([1.4, 1.7, 2.0]), np.array([180.0, 240.0])
    made = sweep(
        fine_beam_bulb, SLOW, accelerating_voltage=volts, coil_current=amperes, model="ideal"
    )
    energy = volts * constants.e
    momentum = np.sqrt(energy**2 + 2.0 * energy * constants.m_e * constants.c**2) / constants.c
    flux = amperes * flux_density_per_ampere(fine_beam_bulb.bench)[2]
    wanted = 2.0 * momentum[:, None] / (constants.e * flux)
    assert made.shape == (2, 3)
    assert made["circle_m"].reshape(made.shape) == pytest.approx(wanted, rel=1e-5)


def test_a_row_is_what_the_page_reads_at_these_settings(deflection_tube):
    made = sweep(deflection_tube, SLOW, plate_voltage=[300.0, 700.0], coil_current=[-0.05, 0.05])
    settings = Settings(
        accelerating_voltage=3000.0, plate_voltage=700.0, coil_current=0.05, coil_reversed=True
    )
    readings = read(deflection_tube, deflection_tube.picture(settings), made.at)
    row = list(made.rows())[2]
    assert (row["plate_voltage_v"], row["coil_current_a"]) == (700.0, -0.05)
    assert row["height_m"] == readings.deflection
    assert row["width_m"] == readings.width
    assert row["kind"] == readings.kind
    assert row["share_screen"] == dict(readings.shares)["screen"]


def test_the_number_of_threads_changes_no_bit(axial_coil_tube):
    one, two = (
        sweep(axial_coil_tube, SLOW.changed(accelerating_voltage=700.0), coil_current=[0.1, 0.36],
              workers=workers)
        for workers in (1, 2)
    )  # fmt: skip
    assert one.csv() == two.csv()


NO_SLACK = {
    "stray_field": "0 T", "beam_rise": "0 deg", "beam_turn": "0 deg", "beam_height": "0 mm",
    "beam_aside": "0 mm", "grid_height": "0 mm", "accelerating_meter": 0.0, "plate_meter": 0.0,
    "coil_meter": 0.0,
}  # fmt: skip


@pytest.mark.slow
def test_bands_are_as_wide_as_the_doubt_about_the_turns(deflection_tube, fine_beam_bulb):
    turns, size = 343, 17
    doubted = change(deflection_tube.bench, {"coils.turns": f"{turns} ± {size}", "slack": NO_SLACK})
    tube = prepare(doubted)
    made = sweep(tube, SLOW, coil_current=[0.02, 0.04])
    # A small bend goes as the ampere-turns; 95 % of a normal curve are 1.96 sigma to either side.
    half = 1.959964 * size / turns * made["height_m"]
    assert (made["height_high_m"] - made["height_low_m"]) / 2 == pytest.approx(half, rel=0.01)
    assert (made["height_high_m"] + made["height_low_m"]) / 2 == pytest.approx(made["height_m"])
    axes = Figure().subplots()
    plot_sweep(axes, made)
    assert len(axes.collections) == 1
    assert "height_low_m" not in sweep(tube, SLOW, coil_current=[0.02], model="ideal").columns
    numbered = sweep(tube, SLOW.changed(coil_current=0.03), {"coils.turns": [343]}, bands=True)
    assert math.isnan(numbered["height_low_m"][0])  # the one doubtful number is the one turned
    turns = fine_beam_bulb.bench.coils.turns
    doubted = change(fine_beam_bulb.bench, {"coils.turns": f"{turns} ± 3", "slack": NO_SLACK})
    made = sweep(
        prepare(doubted), SLOW.changed(accelerating_voltage=230.0), coil_current=[1.5, 1.7]
    )
    half = 1.959964 * 3 / turns * made["circle_m"]  # a circle goes as one over the flux
    assert (made["circle_high_m"] - made["circle_low_m"]) / 2 == pytest.approx(half, rel=0.01)


def test_likely_places_of_a_spot_are_distances_from_the_centre(axial_coil_tube):
    bench = change(axial_coil_tube.bench, {"coils.turns": "1820 ± 15"})
    made = sweep(prepare(bench), Settings(accelerating_voltage=700.0), coil_current=[0.36])
    assert made["spot_off_centre_low_m"][0] == 0.0  # on the axis, whatever pushes it aside
    assert 1e-3 < made["spot_off_centre_high_m"][0] < 20e-3


def test_light_follows_the_energy_of_the_electrons(deflection_tube, axial_coil_tube):
    # The geometry of an undeflected beam without heat and ripple does not depend on its voltage.
    still = {"thermal_spread": False, "ripple": False}
    for tube, volts in ((deflection_tube, [1000.0, 2000.0]), (axial_coil_tube, [400.0, 800.0])):
        free = change(tube.bench, {"place.ignore_earth": True})
        settings = Settings(accelerating_voltage=volts[0], **still)
        made = sweep(prepare(free), settings, accelerating_voltage=volts)
        energy = made["light_j_per_electron"] / made["share_screen"]
        assert energy == pytest.approx(np.array(volts) * constants.e, rel=1e-3)
        assert made["brightness_j_per_m2"][1] == pytest.approx(
            2.0 * made["brightness_j_per_m2"][0], rel=0.01
        )


def test_the_middle_of_a_spot_is_as_bright_as_its_share_and_size_make_it():
    # 1 J in a normal curve of 2 mm by 1 mm has 1 / (2 pi sx sy) in its middle.
    at = 1e-3 * np.arange(-19.5, 20.0, 0.5)
    image = np.exp(-(at[:, None] ** 2) / 2e-6 - at[None] ** 2 / 8e-6)
    edge = at[-1] + 0.25e-3
    plane = ready_made("axial coil tube").plane
    picture = Picture(
        SLOW, "bench", plane, 1, 0, {"screen": 1}, np.zeros((0, 2)), np.zeros((0, 0, 3)),
        image / image.sum(), (-edge - 0.5e-3, edge, -edge - 0.5e-3, edge),
        MeanTrace(*np.zeros((4, 1))),
    )  # fmt: skip
    assert middle_brightness(picture, 0.0) == pytest.approx(1 / (2 * math.pi * 2e-6), rel=0.02)


def test_a_number_of_the_bench_is_changed_with_its_fields(deflection_tube):
    made = sweep(deflection_tube, SLOW, {"coils.turns": [200, 300]}, coil_current=[0.03])
    # Twice the ampere-turns bend twice as far while the bend is small: 1.5 to 1 % here.
    assert made["height_m"][1] / made["height_m"][0] == pytest.approx(1.5, rel=0.01)
    assert made["coils_turns"].tolist() == [200.0, 300.0]


@pytest.mark.parametrize("name", ready_made_names())
def test_page_sweep_and_doubts_read_at_one_place_until_told_otherwise(name):
    bench = ready_made(name)
    place = bench.plane.first_read_x
    volts = bench.gun.max_accelerating_voltage / 2
    assert sweep(prepare(bench), SLOW, accelerating_voltage=[volts]).at == place
    assert read_place(None, bench) == place
    low, high = bench.plane.shown_x
    assert low <= place <= high


def test_a_ratio_is_no_count(deflection_tube, capsys):
    turned = ["--turn", "supplies.plates.ripple", "--range", "0 to 0.04", "--points", "3"]
    assert run(["sweep", "deflection tube", *turned, "--json"]) == 0
    columns = json.loads(capsys.readouterr().out)["columns"]
    assert columns["supplies_plates_ripple"] == [0.0, 0.02, 0.04]
    assert columns["width_m"][0] < columns["width_m"][2]


def test_points_beyond_a_rating_are_refused_or_marked(deflection_tube):
    with pytest.raises(RatingError, match=r"(?s)1 point passes a rating.*plates are rated"):
        sweep(deflection_tube, SLOW, plate_voltage=[100.0, 20e3])
    made = sweep(deflection_tube, SLOW, plate_voltage=[100.0, 20e3], beyond_ratings=True)
    assert made["is_within_ratings"].tolist() == [True, False]
    assert made.beyond_ratings == 1
    assert "1 of 2 points are beyond a rating of the bench." in list(sweep_caption(made))


@pytest.mark.parametrize(
    ("turned", "options", "words"),
    [
        ({"plate_volts": [1.0]}, {}, "did you mean plate_voltage"),
        ({"plates.gaps": [1.0]}, {}, "did you mean plates.gap"),
        ({"plate_voltage": ["high"]}, {}, "give one row of finite numbers in V"),
        ({"plate_voltage": [math.nan]}, {}, "give one row of finite numbers in V"),
        ({"plates.gap": [0.001]}, {}, "screen.height"),
        ({"accelerating_voltage": [-1.0]}, {}, "accelerating_voltage"),
        ({}, {}, "name a knob"),
        ({"plate_voltage": [1.0]}, {"at": 9.0}, "choose between"),
        ({"plate_voltage": [1.0]}, {"model": "real"}, 'choose "bench" or "ideal"'),
        ({"plate_voltage": np.zeros(2000), "coil_current": np.zeros(2000)}, {}, "or fewer"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(deflection_tube, turned, options, words):
    with pytest.raises(GlowtraceError) as refused:
        sweep(deflection_tube, SLOW, turned, **options)
    assert words in str(refused.value)


def test_a_sweep_tells_how_far_it_is_and_can_be_given_up(deflection_tube):
    told: list[float] = []
    sweep(deflection_tube, SLOW, plate_voltage=[0.0, 100.0], progress=lambda f, _: told.append(f))
    assert told == [0.5, 1.0]
    with pytest.raises(GivenUpError):
        sweep(deflection_tube, SLOW, plate_voltage=[0.0, 100.0], cancelled=lambda: True)


def test_the_table_reads_back_with_empty_cells_for_what_is_not_there(deflection_tube):
    made = sweep(deflection_tube, SLOW, plate_voltage=[0.0, 3000.0])
    rows = list(csv.DictReader(io.StringIO(made.csv())))
    assert [float(row["plate_voltage_v"]) for row in rows] == [0.0, 3000.0]
    assert float(rows[0]["width_m"]) == made["width_m"][0]
    assert rows[1]["height_m"] == ""
    with pytest.raises(GlowtraceError, match="choose plate_voltage_v, height_m"):
        made["height"]


def test_pictures_traces_and_sweeps_are_drawn_into_axes_of_ones_own(deflection_tube):
    settings = SLOW.changed(plate_voltage=500.0)
    picture = deflection_tube.picture(settings)
    screen, line, turned = Figure().subplots(1, 3)
    plot_picture(screen, picture)
    plot_textbook(screen, textbook_trace(deflection_tube.bench, settings), picture.plane)
    drawn = plot_trace(line, picture, color="C3", label="500 V")
    made = sweep(deflection_tube, settings, plate_voltage=[0.0, 500.0])
    plot_sweep(turned, made)
    assert drawn.get_ydata()[-1] == pytest.approx(1e3 * picture.mean_trace.v[-1])
    assert len(screen.images) == 1
    assert [each.get_label() for each in turned.lines] == ["real geometry", "textbook"]
    turned.clear()
    plot_sweep(turned, made, read="electric_field_v_per_m")
    assert turned.get_ylabel() == "electric field / kV/m"
    assert turned.lines[0].get_ydata() == pytest.approx(1e-3 * made["electric_field_v_per_m"])
    with pytest.raises(GlowtraceError, match="choose height_m"):
        plot_sweep(turned, made, read="kind")


@pytest.mark.parametrize("ending", PICTURE_ENDINGS)
def test_the_figure_is_written_for_each_kind_of_screen(
    ending, tmp_path, deflection_tube, fine_beam_bulb, axial_coil_tube
):
    for tube in (deflection_tube, fine_beam_bulb, axial_coil_tube):
        volts = tube.bench.gun.min_accelerating_voltage * 1.5
        settings = Settings(accelerating_voltage=volts)
        made = sweep(tube, settings, coil_current=[0.0, 0.01, 0.02])
        path = tmp_path / f"{tube.bench.name}{ending}"
        save_sweep(path, made)
        assert path.read_bytes()[:5] in (b"\x89PNG\r", b"<?xml", b"%PDF-")


def test_objects_tell_themselves_in_a_few_lines_and_can_be_compared(deflection_tube):
    settings = SLOW.changed(plate_voltage="500 V")
    assert repr(settings) == "Settings(accelerating_voltage=3000.0, plate_voltage=500.0)"
    assert repr(deflection_tube.bench) == (
        'Bench "deflection tube", invented: plates, coil pair, sheet'
    )
    picture = deflection_tube.picture(settings)
    made = sweep(deflection_tube, settings, coil_current=[0.0, 0.01])
    ray = deflection_tube.central_ray(settings)
    for each in (deflection_tube, picture, picture.mean_trace, ray, made):
        text = repr(each)
        assert len(text) < 400
        assert text.count("\n") < 6
        assert each == each
        assert isinstance(hash(each), int)
    assert "screen" in repr(picture)


def test_a_parquet_file_holds_the_table(deflection_tube, tmp_path):
    pandas = pytest.importorskip("pandas")
    made = sweep(deflection_tube, SLOW, plate_voltage=[100.0, 300.0, 500.0], model="ideal")
    path = tmp_path / "up.parquet"
    path.write_bytes(made.parquet())
    frame = pandas.read_parquet(path)
    assert list(frame.columns) == list(made.columns)
    assert frame["height_m"].tolist() == made["height_m"].tolist()
    assert frame["kind"].tolist() == made["kind"].tolist()
