"""In a notebook: pictures of objects, readings in every form, one default model, equality.

Displays: IPython's documentation, "Rich display" (a method `_repr_html_` gives HTML text; from
memory). Physics: the diameter of a circle, 2 p / (e B), with p from relativistic energy
(D. J. Griffiths, "Introduction to Electrodynamics", 4th ed. 2013, secs. 5.1.2 and 12.2.4; from
memory), and CODATA's e/m of scipy. Other representations of a number: the packages pint,
uncertainties and pandas.
"""

from __future__ import annotations

import inspect
import math
import pkgutil
import re
from base64 import b64decode

import numpy as np
import pint
import pytest
from matplotlib.figure import Figure
from scipy import constants
from typer.main import get_command
from uncertainties import ufloat, unumpy

import glowtrace
from glowtrace import GlowtraceError, Settings, fit_specific_charge, ready_made, sweep
from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.cli import app
from glowtrace.measure.experiment import experiment
from glowtrace.measure.tables.arrays_and_frames import frame_table
from glowtrace.measure.tables.readings import Reading, table

BULB = ready_made("fine-beam bulb")
ACCEPTED = constants.e / constants.m_e
VOLTS = np.array([180.0, 210.0, 250.0, 250.0])
AMPERES = np.array([1.4, 1.5, 1.5, 1.7])
UNITS = pint.UnitRegistry()


def diameters() -> np.ndarray:
    energy = VOLTS * constants.e
    momentum = np.sqrt(energy**2 + 2.0 * energy * constants.m_e * constants.c**2) / constants.c
    return 2.0 * momentum / (constants.e * AMPERES * flux_density_per_ampere(BULB)[2])


READ = diameters()
SAID = {"accelerating_voltage": VOLTS, "coil_current": AMPERES, "model": "ideal"}


@pytest.fixture(scope="module")
def plain() -> object:
    cells = [Reading(float(each), 0.5e-3) for each in READ]
    return fit_specific_charge("circle", BULB, diameter=cells, **SAID)


@pytest.mark.parametrize(
    "cells",
    [
        pytest.param(unumpy.uarray(READ, 0.5e-3), id="an array with uncertainties"),
        pytest.param([ufloat(each, 0.5e-3) for each in READ], id="values with uncertainties"),
        pytest.param([f"{1e3 * each!r} ± 0.5 mm" for each in READ.tolist()], id="text"),
        pytest.param(unumpy.uarray(1e2 * READ, 0.05) * UNITS.cm, id="a quantity of an array"),
        pytest.param([(each * UNITS.m).to("mm").plus_minus(0.5) for each in READ], id="quantities"),
    ],
)
def test_readings_in_every_form_give_one_result(cells, plain):
    found = fit_specific_charge("circle", BULB, diameter=cells, **SAID)
    assert found.value == pytest.approx(plain.value, rel=1e-9)
    assert found.uncertainty == pytest.approx(plain.uncertainty, rel=1e-6)
    assert abs(found.value - ACCEPTED) < 2.0 * found.uncertainty


def test_frames_are_read_as_spreadsheets_are(plain):
    frame = {
        "diameter_mm": [ufloat(1e3 * each, 0.5) for each in READ],
        "V_a (V)": VOLTS,
        "coil_current": AMPERES,
        "remark": ["", "dim", "", ""],
    }
    found = fit_specific_charge("circle", BULB, frame, model="ideal")
    assert found.value == pytest.approx(plain.value, rel=1e-9)
    radii = {"r (mm)": 500.0 * READ, "U in V": VOLTS, "observer": ["a", "a", "b", "b"]}
    read = frame_table("circle", radii, {"coil_current": "1.5 A"})
    assert read.values("diameter") == pytest.approx(READ)
    assert read.values("coil_current").tolist() == [1.5] * 4
    assert read.runs == ("a", "a", "b", "b")


def test_a_frame_of_pandas_is_read_with_its_gaps():
    pandas = pytest.importorskip("pandas")
    frame = pandas.DataFrame(
        {"diameter": [*READ[:3], math.nan], "V_a (V)": VOLTS, "I (A)": AMPERES}
    )
    assert frame_table("circle", frame, {}).faults == {3: "D: missing"}


def test_a_sweep_becomes_a_frame_of_pandas(deflection_tube):
    pandas = pytest.importorskip("pandas")
    made = sweep(deflection_tube, Settings(accelerating_voltage=3000.0), plate_voltage=[0.0, 500.0])
    frame = pandas.DataFrame(made.columns)
    assert frame.shape == (2, len(made.columns))
    assert frame["is_within_ratings"].dtype == bool
    assert frame.set_index("plate_voltage_v")["height_m"][500.0] == made["height_m"][1]


SHARED = ufloat(0.0, 0.5e-3)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ({"diameter": [each + SHARED for each in READ]}, "uncertainties that they share"),
        ({"diameter": ufloat(0.08, 1e-3)}, "diameter: one uncertain value for 4 rows"),
        ({"diameter": READ * UNITS.volt}, "diameter: .*give a length in m"),
        ({"diameter": ["80 V"] * 4}, "diameter: .*give a length"),
        ({"diameter": ["wide"] * 4}, "diameter: .*give a length"),
        ({"diameter": [[ufloat(0.08, 1e-3), 0.081]] * 4}, "repeats with uncertainties"),
        ({"diameter": object()}, "diameter: .*give a length in m"),
        ({"diameters": READ}, "diameters"),
        ({"frame": 3.0}, "give a frame or a dict of lists"),
        ({"frame": {"D": READ, "accelerating_voltage": VOLTS}, "coil_current": None}, "columns"),
        ({"diameter": READ, "model": "real"}, 'choose "bench" or "ideal"'),
    ],
)
def test_readings_that_cannot_be_meant_are_refused_by_name(readings, words):
    is_frame = "frame" in readings
    said = {"model": "ideal"} if is_frame else SAID
    with pytest.raises(GlowtraceError, match=words):
        fit_specific_charge("circle", BULB, **(said | readings))


def test_a_fit_tells_itself_and_is_drawn(plain):
    assert re.match(r"e/m = 1\.7\d+\(\d+\)e\+11 C/kg; with", plain.summary())
    assert plain.residuals.shape == (4, 1)
    assert abs(plain.residuals).max() < 0.2
    read, beside = Figure().subplots(1, 2)
    plain.plot(read, beside)
    assert read.get_xlabel() == "V_a (V)"
    assert len(beside.lines[1].get_ydata()) == 4


def test_every_object_shows_itself_with_a_picture(plain, deflection_tube):
    settings = Settings(accelerating_voltage=3000.0)
    picture = deflection_tube.picture(settings)
    made = sweep(deflection_tube, settings, plate_voltage=[0.0, 500.0])
    planned = glowtrace.plan_goal(deflection_tube, "null", answers=1, model="ideal")
    for each in (picture, made, planned, planned.answers[0], plain):
        text = each._repr_html_()
        image = re.search(r'<img alt="[^"]+" src="data:image/png;base64,([^"]+)"', text)
        assert b64decode(image[1]).startswith(b"\x89PNG")
        assert len(text) < 120_000
        assert len(repr(each)) < 500
    for bench in (deflection_tube, deflection_tube.bench, BULB):
        assert "<svg" in bench._repr_html_()
        assert "mean radius" in bench._repr_html_()
    refused = glowtrace.plan_goal(glowtrace.prepare(BULB), "null", remedies="quick")
    assert "no plates" in refused._repr_html_()


def test_what_is_equal_is_equal_and_has_one_hash(deflection_tube):
    settings = Settings(accelerating_voltage=3000.0)
    for one, other, third in (
        (ready_made("deflection tube"), ready_made("deflection tube"), BULB),
        (settings, Settings(accelerating_voltage="3 kV"), settings.changed(heater_on=False)),
    ):
        assert one == other != third
        assert len({one, other, third}) == 2
    # Results are themselves: comparing them never compares arrays.
    one, other = (deflection_tube.picture(settings) for _ in range(2))
    assert one == one != other
    assert len({one, other, one, deflection_tube}) == 3


def test_one_default_model_in_library_and_command(fine_beam_bulb):
    library = (
        glowtrace.sweep, glowtrace.plan_goal, glowtrace.outcome_map, fit_specific_charge,
        glowtrace.PreparedBench.picture, glowtrace.PreparedBench.ray,
    )  # fmt: skip
    defaults = {each.__name__: inspect.signature(each).parameters["model"] for each in library}
    assert {name: each.default for name, each in defaults.items()} == dict.fromkeys(
        defaults, "bench"
    )
    program = get_command(app)
    told = {
        name: option.default
        for name in program.list_commands(None)
        for option in program.get_command(None, name).params
        if option.name == "model"
    }
    assert len(told) > 5
    assert set(told.values()) == {"bench"}
    rows = [{"diameter": 0.08, "accelerating_voltage": 200.0, "coil_current": 1.5}] * 2
    assert experiment(fine_beam_bulb, table("circle", rows)).model == "bench"


def test_packages_are_reached_from_glowtrace_alone():
    # Every package but the physics below the bench and the two faces above the library.
    found = {each.name for each in pkgutil.iter_modules(glowtrace.__path__) if each.ispkg}
    names = found - {"beam", "fields", "cli", "web"}
    for name in names:  # not by what another test has imported
        assert glowtrace.__getattr__(name).__name__ == f"glowtrace.{name}"
    assert names < set(dir(glowtrace))
    report = glowtrace.__getattr__("report")
    assert all(callable(report.__getattr__(name)) for name in report.__all__)
    with pytest.raises(AttributeError, match="no attribute 'reports'"):
        glowtrace.__getattr__("reports")
