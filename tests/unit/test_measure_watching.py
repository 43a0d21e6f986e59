"""Long work tells how far it is, and ends soon once it is given up. Rules of the project."""

from __future__ import annotations

import datetime
from functools import partial

import numpy as np
import pytest

from glowtrace.bench.ready_made import ready_made
from glowtrace.errors import GlowtraceError
from glowtrace.measure.calibration import calibrate_tube
from glowtrace.measure.experiment import Known, experiment
from glowtrace.measure.fits.intervals import (
    interval,
    monte_carlo_interval,
    monte_carlo_trials,
    monte_carlo_values,
    profile_interval,
)
from glowtrace.measure.observing import Knobs
from glowtrace.measure.systematics import systematics
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import table
from glowtrace.watching import GivenUpError, Watch

BULB = ready_made("fine-beam bulb")
METERS = {
    "ruler": Instrument(resolution=1e-3),
    "accelerating_voltage": Instrument(resolution=1.0, gain_limit=0.005),
    "coil_current": Instrument(resolution=0.01),
}
CIRCLES = table(
    "circle",
    [
        {"accelerating_voltage": volts, "coil_current": 1.5, "diameter": diameter}
        for volts, diameter in ((180.0, 0.0735), (220.0, 0.0822), (260.0, 0.0894))
    ],
    METERS,
)
KNOWN = {"coil_constant": Known(None, 3e-6)}
SETUP = experiment(BULB, CIRCLES, known=KNOWN)
FITTED = SETUP.fit()


def calibrate(**watchers):
    calibrate_tube(BULB, CIRCLES, date=datetime.date(2026, 11, 26), **watchers)


LONG_WORK = {
    "fit": SETUP.fit,
    "calibration": calibrate,
    "profile": partial(profile_interval, FITTED, "specific_charge"),
    "interval": partial(interval, FITTED, "specific_charge"),
    "trials": partial(monte_carlo_values, FITTED, "specific_charge", trials=20),
    "trials' interval": partial(monte_carlo_interval, FITTED, "specific_charge", trials=20),
}


@pytest.mark.parametrize("name", LONG_WORK)
def test_the_part_that_is_done_grows_to_the_whole(name):
    told = []
    LONG_WORK[name](progress=lambda done, words: told.append((done, words)))
    done = [fraction for fraction, _ in told]
    assert len(set(done)) >= 3
    assert done == sorted(done)
    assert done[0] < 0.1
    assert done[-1] == pytest.approx(1.0)
    assert all(words for _, words in told)


@pytest.mark.parametrize("name", LONG_WORK)
def test_work_given_up_ends_at_the_next_question(name):
    asked = []

    def cancelled() -> bool:
        asked.append(True)
        return len(asked) >= 3

    with pytest.raises(GivenUpError, match="cancelled"):
        LONG_WORK[name](cancelled=cancelled)
    assert len(asked) == 3


def test_watching_changes_no_number():
    watched = SETUP.fit(progress=lambda done, words: None, cancelled=lambda: False)
    assert np.array_equal(watched.values, FITTED.values)
    assert np.array_equal(watched.covariance, FITTED.covariance)


def test_trials_one_by_one_are_given_up_too_and_not_taken_for_ones_that_cannot_be_fitted():
    stop = []
    trials = monte_carlo_trials(FITTED, "specific_charge", cancelled=lambda: bool(stop))
    assert np.isfinite(next(trials))
    stop.append(True)
    with pytest.raises(GivenUpError):
        next(trials)


def test_the_effects_of_a_bench_are_counted_one_by_one(axial_coil_tube):
    told = []
    knobs = Knobs(accelerating_voltage=500.0, length=0.2)
    work = partial(systematics, axial_coil_tube, "axial focus", knobs)
    work(progress=lambda done, words: told.append((done, words)))
    done = [fraction for fraction, _ in told]
    assert done == sorted(set(done))
    assert (done[0], done[-1]) == (0.0, 1.0)
    assert "counting: Earth's field" in [words for _, words in told]
    with pytest.raises(GivenUpError):
        work(cancelled=lambda: True)


def test_a_stretch_of_a_stretch_lies_in_the_whole():
    told = []
    Watch(lambda done, words: told.append(done)).stretch(0.5, 1.0).stretch(0.0, 0.5).note(1.0, "x")
    assert told == [0.75]


def test_giving_up_is_an_error_that_is_shown_as_it_is():
    assert issubclass(GivenUpError, GlowtraceError)
