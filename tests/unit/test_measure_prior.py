"""What is known beforehand about several constants together: correlated knowledge in a fit.

Reference is the joint fit of all readings, which needs no such knowledge, and generalised least
squares written out for a linear case (any text on statistics).
"""

from __future__ import annotations

import datetime
import json
import math
from dataclasses import replace

import numpy as np
import pytest

from glowtrace.bench.ready_made import ready_made
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError
from glowtrace.measure.calibration import (
    Factor,
    TubeCalibration,
    calibrate_tube,
    calibration_from_json,
)
from glowtrace.measure.experiment import FREE, Known, experiment
from glowtrace.measure.export import export_measurement, redo_measurement
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.conditions import Series
from glowtrace.measure.fits.fitting import fit
from glowtrace.measure.fits.intervals import linear_interval, monte_carlo_values, profile_interval
from glowtrace.measure.fits.parameters import Parameter
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import table
from glowtrace.measure.trial_readings import drawn_truth, exact_readings, noisy_readings

TUBE = ready_made("deflection tube")
DAY = datetime.date(2026, 11, 26)
RULER = {"ruler": Instrument(judgement=0.3e-3)}
VOLTMETER = {"plate_voltage": Instrument(judgement=4.0)}

# Beforehand a = 2.0(3), b = 5.0(4), correlated by 0.9; read are a - b once and a + b + c twice.
MEANS, SPREADS, TIE = np.array([2.0, 5.0]), np.array([0.3, 0.4]), 0.9
PARAMETERS = (
    Parameter("a", "a", "1", 2.0, 0.3),
    Parameter("b", "b", "1", 5.0, 0.4),
    Parameter("c", "c", "1", 0.0, math.inf, typical=0.1),
)
SLOPES = np.array([[1.0, -1.0, 0.0], [1.0, 1.0, 1.0], [1.0, 1.0, 1.0]])
READ, ERRORS = np.array([-2.7, 9.0, 9.3]), np.array([0.1, 0.2, 0.2])
CORRELATION = np.array([[1.0, TIE, 0.0], [TIE, 1.0, 0.0], [0.0, 0.0, 1.0]])


def linear_fit():
    rows = np.column_stack([np.arange(3.0), READ])
    series = Series(
        "linear", ("row", "y"), rows, np.column_stack([np.zeros(3), ERRORS]),
        lambda theta, q: (q[:, 1] - SLOPES[q[:, 0].astype(int)] @ theta)[:, None],
    )  # fmt: skip
    return fit([series], PARAMETERS, correlation=CORRELATION)


def test_correlated_knowledge_is_generalised_least_squares():
    covariance = np.zeros((5, 5))
    covariance[:3, :3] = np.diag(ERRORS**2)
    covariance[3:, 3:] = CORRELATION[:2, :2] * np.outer(SPREADS, SPREADS)
    design = np.vstack([SLOPES, np.eye(3)[:2]])
    weight = np.linalg.inv(covariance)
    wanted = np.linalg.inv(design.T @ weight @ design)
    best = wanted @ design.T @ weight @ np.append(READ, MEANS)
    away = np.append(READ, MEANS) - design @ best
    found = linear_fit()
    assert found.values == pytest.approx(best, rel=1e-8)
    assert found.covariance == pytest.approx(wanted, rel=1e-6)
    assert found.chi_square == pytest.approx(away @ weight @ away, rel=1e-6)
    assert found.degrees_of_freedom == 2


@pytest.mark.parametrize("name", ["a", "b", "c"])
def test_intervals_of_a_linear_case_agree_with_correlated_knowledge(name):
    found = linear_fit()
    linear, profile = linear_interval(found, name), profile_interval(found, name)
    half = (linear.high - linear.low) / 2
    assert profile.low == pytest.approx(linear.low, abs=2e-3 * half)
    assert profile.high == pytest.approx(linear.high, abs=2e-3 * half)


@pytest.mark.slow
def test_monte_carlo_draws_correlated_knowledge_together():
    found, name = linear_fit(), "a"
    spread = float(np.std(monte_carlo_values(found, name, trials=100, seed=3)))
    # Three standard errors of a standard deviation from 100 trials are 21 %.
    assert spread == pytest.approx(found.uncertainty(name), rel=0.21)


@pytest.mark.parametrize(
    "matrix",
    [
        np.eye(2),
        np.array([[1.0, 0.5, 0.0], [0.4, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        np.array([[1.0, 1.2, 0.0], [1.2, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        np.array([[1.0, 0.0, 0.5], [0.0, 1.0, 0.0], [0.5, 0.0, 1.0]]),
    ],
    ids=["shape", "not symmetric", "more than one", "of a free parameter"],
)
def test_a_correlation_that_is_none_is_refused(matrix):
    with pytest.raises(GlowtraceError, match="correlation"):
        fit(linear_fit().series, PARAMETERS, correlation=matrix)


# ------------------------------------------------------------ a calibration, used again


def calibration_readings():
    """Nulls know the ratio of both fields well, points of the two deflections each less well."""
    nulls = [
        {"accelerating_voltage": 3000.0, "coil_current": i, "plate_voltage": -7e3 * i}
        for i in (0.1, -0.1, 0.14, -0.14)
    ]
    arcs = [
        {"accelerating_voltage": 3000.0, "coil_current": i, "x": 0.08, "y": 73e-3 * i}
        for i in (0.14, -0.14)
    ]
    accepted = {"specific_charge": Known(SPECIFIC_CHARGE)}
    setup = experiment(
        TUBE,
        [table("null", nulls, VOLTMETER), table("coils only", arcs, RULER)],
        known=accepted | {"plate_gap": FREE, "coil_constant": FREE},
    )
    truth = {"plate_gap": 0.97 * TUBE.plates.gap}
    return noisy_readings(setup, exact_readings(setup, truth), 4).tables, truth["plate_gap"]


def later_readings(gap: float):
    """Nulls with e/m free, at other voltages."""
    rows = [
        {"accelerating_voltage": 2000.0, "coil_current": i, "plate_voltage": -5.6e3 * i}
        for i in (0.08, -0.08, 0.12, -0.12)
    ]
    setup = experiment(TUBE, table("null", rows, VOLTMETER))
    return noisy_readings(setup, exact_readings(setup, {"plate_gap": gap}), 5).tables


def jointly(before, later):
    """All readings in one fit: e/m as accepted in the calibration's, free in the later ones."""
    free = {"plate_gap": FREE, "coil_constant": FREE}
    setup = experiment(TUBE, [*before, *later], known=free)

    def accepted(series):
        def conditions(theta, readings):
            return series.conditions(np.append(SPECIFIC_CHARGE, theta[1:]), readings)

        return replace(series, conditions=conditions)

    series = [*map(accepted, setup.series[: len(before)]), *setup.series[len(before) :]]
    assert setup.parameters[0].name == "specific_charge"
    return fit(series, setup.parameters)


def test_factors_used_again_with_their_correlation_agree_with_a_joint_fit():
    before, gap = calibration_readings()
    later = later_readings(gap)
    made = calibrate_tube(TUBE, before, date=DAY).calibration
    assert made.correlation > 0.9
    joint = jointly(before, later)
    read = calibration_from_json(made.to_json())
    with_tie = experiment(TUBE, later, known=read.known(TUBE)).fit()
    without = experiment(TUBE, later, known=replace(read, correlation=0.0).known(TUBE)).fit()
    wanted, name = joint.uncertainty("specific_charge"), "specific_charge"
    assert with_tie.value(name) == pytest.approx(joint.value(name), abs=0.02 * wanted)
    assert with_tie.uncertainty(name) == pytest.approx(wanted, rel=0.02)
    assert not 0.5 < without.uncertainty(name) / wanted < 2.0


def test_the_budget_has_one_line_for_factors_that_belong_together():
    before, gap = calibration_readings()
    known = calibrate_tube(TUBE, before, date=DAY).calibration.known(TUBE)
    setup = experiment(TUBE, later_readings(gap), known=known)
    found = fit_budget(setup, setup.fit())
    assert sum(line.share for line in found.lines) == pytest.approx(1.0)
    together = "effective gap of the plates and coil constant"
    assert together in [line.name for line in found.lines]
    again, fitted = redo_measurement(export_measurement(setup, setup.fit()))
    assert np.array_equal(again.correlation, setup.correlation)
    assert fit_budget(again, fitted).uncertainty == pytest.approx(found.uncertainty)


def test_a_correlation_counts_only_where_both_constants_name_it():
    before, gap = calibration_readings()
    known = calibrate_tube(TUBE, before, date=DAY).calibration.known(TUBE)
    other = known | {"plate_gap": Known(0.05, 1e-3)}  # told by somebody, not by the calibration
    setup = experiment(TUBE, later_readings(gap), known=other)
    assert np.array_equal(setup.correlation, np.eye(len(setup.parameters)))


def test_drawn_truths_are_correlated():
    before, gap = calibration_readings()
    made = calibrate_tube(TUBE, before, date=DAY).calibration
    setup = experiment(TUBE, later_readings(gap), known=made.known(TUBE))
    drawn = [drawn_truth(setup, seed) for seed in range(300)]
    pairs = np.array([[each["plate_gap"], each["coil_constant"]] for each in drawn])
    wanted = setup.correlation[1, setup.correlation[1] < 0].min()
    assert np.corrcoef(pairs.T)[0, 1] == pytest.approx(wanted, abs=0.03)


def test_calibrations_of_the_format_before_are_read_as_uncorrelated():
    made = TubeCalibration(
        "key", "ideal", DAY, Factor(0.97, 0.01), Factor(1.0, 0.01), correlation=0.8
    )
    assert calibration_from_json(made.to_json()) == made
    old = json.loads(made.to_json()) | {"format": "glowtrace-calibration 1"}
    del old["correlation"]
    assert calibration_from_json(json.dumps(old)) == replace(made, correlation=0.0)


@pytest.mark.parametrize("changes", [{"correlation": 1.0}, {"coil_factor": None}])
def test_correlations_of_factors_that_make_no_sense_are_refused(changes):
    made = TubeCalibration("key", "ideal", DAY, Factor(0.97, 0.01), Factor(1.0, 0.01))
    with pytest.raises(GlowtraceError, match="correlation"):
        replace(made, **({"correlation": 0.5} | changes))
