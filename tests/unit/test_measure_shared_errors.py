"""Errors that readings share: meters, one setting of the knobs, the map of a photograph."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.ready_made import ready_made
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError
from glowtrace.measure.experiment import Known, experiment
from glowtrace.measure.export import export_measurement, redo_measurement
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.conditions import linearise
from glowtrace.measure.fits.separability import separability
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import table
from glowtrace.measure.tables.spreadsheet import read_table, write_table
from glowtrace.measure.trial_readings import exact_readings, noisy_readings
from glowtrace.photographs.sway import fitted_sway, sway_at, sway_from_text, sway_text
from glowtrace.report.measurement.fit_words import separability_sentences

BEND = (0.0, 0.0, 0.0, 0.2)
"""0.2 x^2: 2 mm at 0.1 m, the very shape of a flat arc."""
METERS = {
    "ruler": Instrument(resolution=1e-3),
    "accelerating_voltage": Instrument(resolution=10.0, gain_limit=0.005),
    "coil_current": Instrument(resolution=0.01, gain_limit=0.01),
}


def arc(meters=METERS, currents=(0.14,), points=20):
    rows = [
        {"x": x, "y": math.copysign(1.6 * x**2, i), "accelerating_voltage": 3000.0,
         "coil_current": i}
        for i in currents
        for x in np.linspace(0.03, 0.1, points)
    ]  # fmt: skip
    setup = experiment(ready_made("deflection tube"), table("coils only", rows, meters))
    return setup.with_tables(exact_readings(setup))


def relative(setup):
    fit = setup.fit()
    return fit.uncertainty("specific_charge") / SPECIFIC_CHARGE


def test_a_knob_that_stood_still_is_read_once_however_many_points_there_are():
    # Closed form: e/m goes with 1 / I^2 and with V, and the one rounding of each counts in full.
    meters = {name: METERS[name] for name in ("accelerating_voltage", "coil_current")}
    few, many = (
        relative(arc({**meters, "ruler": Instrument(judgement=1e-7)}, points=n)) for n in (5, 40)
    )
    rounding = np.hypot(2 * 0.01 / 0.14, 10.0 / 3000.0) / math.sqrt(12)
    gains = np.hypot(2 * 0.01, 0.005) / math.sqrt(3)
    assert many == pytest.approx(math.hypot(rounding, gains), rel=0.01)
    assert few == pytest.approx(many, rel=1e-3)


def test_another_setting_is_another_reading():
    one, two = arc(), arc(currents=(0.14, -0.14))
    names = [each.name for each in two.parameters]
    assert [each for each in names if "setting" in each] == [
        "accelerating_setting_1", "accelerating_setting_2",
        "current_setting_1", "current_setting_2",
    ]  # fmt: skip
    assert relative(two) < 0.85 * relative(one)


def test_the_budget_tells_one_line_for_all_settings():
    setup = arc(currents=(0.14, -0.14))
    fit = setup.fit()
    found = fit_budget(setup, fit)
    names = [line.name for line in found.lines]
    assert names.count("I as read (coils only)") == 1
    assert math.fsum(line.share for line in found.lines) == pytest.approx(1.0, rel=1e-6)
    assert not any("setting" in sentence for sentence in separability_sentences(separability(fit)))


def test_a_bent_map_counts_as_the_bend_that_it_is():
    # An error shaped like the arc itself, y = x^2 / 2R, cannot be told from e/m, which goes with
    # 1 / R^2: for 0.02 x^2 (standard uncertainty) on 1.6 x^2 that is 2 x 0.02 / 1.6 = 2.5 %.
    bend = tuple(0.1 * each for each in BEND)
    exact = {"x": Instrument(), "y": Instrument(judgement=1e-4, sway=(bend,))}
    setup = arc({"accelerating_voltage": Instrument(), "coil_current": Instrument(), **exact})
    assert relative(setup) == pytest.approx(2 * 0.02 / 1.6, rel=0.05)
    lines = {line.name: line for line in fit_budget(setup, setup.fit()).lines}
    assert lines["map of photograph 1"].share > 0.9


def test_slopes_by_the_chain_rule_are_those_of_the_model():
    photograph = {
        "x": Instrument(judgement=1e-4, sway=((1e-4, 1e-3, 2e-3), (0.0, 0.0, 1e-3))),
        "y": Instrument(judgement=1e-4, sway=((0.0, 2e-3, 1e-3), (2e-4, 0.0, 0.0, 0.1))),
    }
    setup = arc({**METERS, **photograph}, currents=(0.14, -0.14))
    (series,) = setup.series
    theta = np.array([each.value for each in setup.parameters])
    linear = linearise(series, theta, series.readings)
    shared = linear.slopes_of_shared(theta)
    named = {setup.parameters[n].name for n in shared}
    assert named >= {"accelerating_gain", "current_zero", "current_setting_2",
                     "photograph_1_map_2"}  # fmt: skip
    for position, slope in shared.items():
        step = np.zeros_like(theta)
        step[position] = 0.02 * (setup.parameters[position].spread or 1e-4)
        change = linear.residuals(theta + step) - linear.residuals(theta - step)
        numeric = change / (2 * step[position])
        assert slope == pytest.approx(numeric, rel=1e-3, abs=1e-6 * np.abs(numeric).max())


def test_noise_shifts_all_points_of_a_setting_together():
    setup = arc()
    drawn = noisy_readings(setup, setup.tables, seed=3)
    shown = drawn.tables[0].values("coil_current")
    assert np.ptp(shown) == 0
    assert shown[0] != 0.14
    assert np.ptp(drawn.tables[0].values("y") - setup.tables[0].values("y")) > 0


def test_a_photograph_survives_text_and_json():
    photograph = {
        "x": Instrument(name="photograph", sway=((1.25e-5, -0.1), BEND)),
        "y": Instrument(name="photograph", judgement=1e-4, sway=(BEND, (1e-4,))),
    }
    setup = experiment(
        ready_made("deflection tube"),
        arc({**METERS, **photograph}).tables,
        known={"coil_constant": Known(None, 1e-5)},
    )
    (made,) = setup.tables
    again = read_table(write_table(made))
    assert again.instrument("x").sway == made.instrument("x").sway
    assert again.instrument("y").sway == made.instrument("y").sway
    fit = setup.fit()
    redone, refit = redo_measurement(export_measurement(setup, fit))
    assert redone.tables == setup.tables
    assert refit.values == pytest.approx(fit.values, rel=1e-12)


def test_polynomials_of_the_place():
    rng = np.random.default_rng(0)
    places = rng.uniform(-0.05, 0.1, (30, 2))
    known = [(1e-4, 2e-3, 0.0, 0.3), (0.0, 0.0, 1e-3, 0.0, -0.2, 0.1)]
    errors = sway_at(known, *places.T)
    found, missed = fitted_sway(places, errors)
    assert sway_at(found, *places.T) == pytest.approx(errors, abs=1e-12)
    assert missed.max() < 1e-12
    assert sway_from_text(sway_text(found)) == found
    _, missed = fitted_sway(places[:2], errors[:, :2])  # too few for more than a shift
    assert missed.shape == (2,)
    for text in ("", "1 2 x", "1 / ", "nan"):
        with pytest.raises(GlowtraceError, match="sway"):
            sway_from_text(text)
