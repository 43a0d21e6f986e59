"""What a fit says against itself. Readings are made up here, with known faults."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import constants

from glowtrace.bench.ready_made import ready_made
from glowtrace.errors import GlowtraceError
from glowtrace.measure.experiment import Known, experiment
from glowtrace.measure.export import export_measurement, redo_measurement
from glowtrace.measure.findings import constants_data, find, findings_data, interval_of
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.conditions import NoSuchReadingError
from glowtrace.measure.fits.fitted import FitVerdict
from glowtrace.measure.specific_charge import fit_specific_charge
from glowtrace.measure.tables.instrument import Instrument, meter
from glowtrace.measure.tables.readings import Reading, table
from glowtrace.measure.tables.spreadsheet import read_table
from glowtrace.measure.tube import ideal_coil_constant
from glowtrace.measure.usual_meters import stepped, usual_knowledge, usual_meter
from glowtrace.report.measurement.fit_words import finding_sentences

ACCEPTED = -constants.physical_constants["electron charge to mass quotient"][0]
BULB = ready_made("fine-beam bulb")
FLUX = ideal_coil_constant(BULB)
SETTINGS = [(v, i) for v in (150.0, 180.0, 210.0, 240.0, 270.0) for i in (1.3, 1.5, 1.7)]


def diameter(voltage, current):
    """Diameter by the textbook, for slow electrons."""
    return 2 * math.sqrt(2 * voltage / ACCEPTED) / (FLUX * current)


def circles(scatter=0.0, less=0.0, judged=1e-3, seed=1, known=None):
    """Circles whose diameters scatter, with ``less`` volts acting than the meter shows."""
    drawn = np.random.default_rng(seed)
    rows = [
        {
            "diameter": diameter(v - less, i) + scatter * drawn.normal(),
            "accelerating_voltage": v,
            "coil_current": i,
        }
        for v, i in SETTINGS
    ]
    meters = {
        "ruler": Instrument(judgement=judged),
        "accelerating_voltage": meter("0.5 % + 2 digits", "1 V", "V"),
    }
    return experiment(BULB, table("circle", rows, meters), known=known)


def test_sound_readings_have_an_interval_and_nothing_against_it():
    setup, fit = circles(scatter=1e-3).fitted()
    findings = find(setup, fit)
    assert findings.verdict in (FitVerdict.GOOD, FitVerdict.TOO_GOOD)
    assert findings.interval_holds
    assert findings_data(findings, "specific_charge")["scatter"] is None
    assert finding_sentences(fit, findings, "specific_charge", setup.tables[0].columns) == ()


def test_the_scatter_that_readings_show_stands_beside_the_stated_one():
    setup, fit = circles(scatter=4e-3, judged=0.3e-3).fitted()
    findings = find(setup, fit)
    assert findings.verdict is FitVerdict.POOR
    assert not findings.interval_holds
    assert findings.scatter.shown == pytest.approx(4e-3, rel=0.4)
    done = findings.scatter.fit
    assert done.chi_square == pytest.approx(done.degrees_of_freedom, rel=0.03)
    low, high = interval_of(done, "specific_charge")
    assert findings.scatter_holds
    assert low < ACCEPTED < high
    told = findings_data(findings, "specific_charge")
    assert told["scatter"]["result"]["interval"] == pytest.approx([low, high])
    assert len(findings.rows_named) <= 2


def test_less_voltage_than_the_meter_shows_is_named():
    known = {"contact_offset": Known(None, 5.0)}
    setup, fit = circles(scatter=0.5e-3, less=50.0, judged=0.5e-3, known=known).fitted()
    findings = find(setup, fit)
    assert "contact_offset" in [each.name for each in findings.pulled]
    assert findings.trend.name == "contact_offset"
    assert findings.trend.value == pytest.approx(-50.0, abs=3 * findings.trend.uncertainty)
    freed = findings.trend.fit
    assert freed.value("specific_charge") == pytest.approx(ACCEPTED, rel=0.1)
    told = findings_data(findings, "specific_charge")
    assert told["pulled"][0]["standard_uncertainties"] < -3
    first = finding_sentences(fit, findings, "specific_charge", setup.tables[0].columns)[0]
    assert findings.pulled[0].title in first
    names = [each["name"] for each in constants_data(fit)]
    assert {"specific_charge", "contact_offset", "accelerating_zero"} <= set(names)


@pytest.mark.parametrize("robust", ["huber", "student"])
def test_robust_fits_have_no_negative_freedom_and_are_poor_where_most_rows_are_out(robust):
    setup = circles(scatter=8e-3, judged=0.1e-3)
    fit = setup.fit(robust=robust)
    assert fit.rows_out > len(SETTINGS) / 3
    assert fit.degrees_of_freedom == len(SETTINGS) - 1
    assert fit.verdict is FitVerdict.POOR
    assert find(setup, fit).rows_named == ()


def test_a_row_without_a_reading_in_the_model_is_left_out_with_its_reason(fine_beam_bulb):
    rows = [
        {"diameter": 0.082, "accelerating_voltage": 200.0, "coil_current": 1.5},
        {"diameter": 0.092, "accelerating_voltage": 250.0, "coil_current": 1.5},
        {"diameter": 0.073, "accelerating_voltage": 200.0, "coil_current": 1.7},
        {"diameter": 0.2, "accelerating_voltage": 300.0, "coil_current": 0.3},
    ]
    made = table("circle", rows, {"ruler": Instrument(judgement=1e-3)})
    setup = experiment(fine_beam_bulb, made, model="bench")
    with pytest.raises(NoSuchReadingError):
        setup.fit()
    used, fit = setup.fitted()
    assert used.tables[0].usable == (0, 1, 2)
    assert used.tables[0].fault(3)
    assert len(fit.fitted[0].residuals) == 3
    alone = experiment(fine_beam_bulb, table("circle", rows[:3], made.instruments), model="bench")
    assert fit.value("specific_charge") == pytest.approx(alone.fit().value("specific_charge"))
    half = table("circle", [rows[0], rows[3]], made.instruments)
    with pytest.raises(NoSuchReadingError):
        experiment(fine_beam_bulb, half, model="bench").fitted()


def test_runs_that_lie_apart_count_in_the_budget():
    drawn = np.random.default_rng(5)
    rows, runs = [], []
    for run in "ABCDE":
        shift = 3e-3 * drawn.normal()
        for v, i in SETTINGS[::3]:
            rows.append({
                "diameter": diameter(v, i) + shift + 0.5e-3 * drawn.normal(),
                "accelerating_voltage": v, "coil_current": i,
            })  # fmt: skip
            runs.append(run)
    made = table("circle", rows, {"ruler": Instrument(judgement=0.5e-3)}, runs=runs)
    setup, fit = experiment(BULB, made).fitted()
    assert setup.run_spreads[0] == pytest.approx(3e-3, rel=0.6)
    assert fit.verdict is not FitVerdict.POOR
    line = fit_budget(setup, fit).lines[0]
    assert line.name.startswith("differences between runs")
    assert line.kind == "A"
    assert line.degrees_of_freedom == pytest.approx(4)  # of five runs
    without, single = experiment(BULB, table("circle", rows, made.instruments)).fitted()
    assert fit.uncertainty("specific_charge") > 2 * single.uncertainty("specific_charge")
    assert without.run_spreads == ()
    _, again = redo_measurement(export_measurement(setup, fit))
    assert again.value("specific_charge") == pytest.approx(fit.value("specific_charge"), rel=1e-6)


def test_what_is_usual_follows_what_is_read():
    assert usual_knowledge(BULB)["contact_offset"].uncertainty > 0
    assert usual_knowledge(ready_made("deflection tube")) == {}
    assert usual_meter("ruler", "circle").judgement > 5 * usual_meter("ruler", "null").judgement
    with pytest.raises(GlowtraceError, match="100 %"):
        Instrument(gain_limit=1.5)
    with pytest.raises(GlowtraceError, match="ruler"):
        table("circle", [], {"ruler": Instrument(judgement=1e6)})


def test_the_step_of_a_meter_comes_from_the_decimals_written():
    found = read_table("D (mm)\tU (V)\tI (A)\n82\t200\t1,40\n90\t250\t1,55", "circle")
    usual = {name: usual_meter(name, "circle") for name in ("coil_current", "ruler")}
    meters = stepped(found, usual)
    assert meters["coil_current"].resolution == pytest.approx(0.01)
    assert meters["coil_current"].zero_limit == pytest.approx(0.02)
    assert meters["ruler"] == usual["ruler"]


def test_one_call_gives_the_same_as_the_long_way():
    voltages, currents = zip(*SETTINGS, strict=True)
    meters = {"ruler": Instrument(judgement=1e-3), "coil_current": Instrument(1e-3)}
    found = fit_specific_charge(
        "circle",
        BULB,
        model="ideal",
        accelerating_voltage=voltages,
        coil_current=currents,
        diameter=[diameter(v, i) for v, i in SETTINGS],
        instruments=meters,
        known={"contact_offset": Known(0.0, 1.0)},
    )
    low, high = found.interval
    assert low < ACCEPTED < high
    assert found.value == pytest.approx(ACCEPTED, rel=2e-3)
    assert found.setup.known["contact_offset"].uncertainty == 1.0
    one = fit_specific_charge(
        "circle", BULB, accelerating_voltage=200.0, coil_current=[1.3, 1.5],
        diameter=[Reading(diameter(200.0, i), 1e-3) for i in (1.3, 1.5)], model="ideal",
    )  # fmt: skip
    assert one.fit.degrees_of_freedom == 1
    assert one.budget.lines[0].name.startswith("contact potentials")
    with pytest.raises(GlowtraceError, match="diameter 1"):
        fit_specific_charge(
            "circle", BULB, accelerating_voltage=[200.0, 210.0], coil_current=1.0, diameter=[0.1]
        )
    contradicting = fit_specific_charge(
        "circle",
        BULB,
        model="ideal",
        accelerating_voltage=voltages,
        coil_current=currents,
        diameter=[diameter(v - 60.0, i) for v, i in SETTINGS],
        instruments=meters,
    )
    assert contradicting.interval is None
