"""Recovery of a known e/m: how often the stated interval holds the truth.

Not from a publication: a 95 % interval is right if it covers the truth in 95 of 100 repetitions
(GUM 2.3.5, JCGM 101 3.12); the band of 93 to 97 % is about three standard errors of 500 trials.
"""

from __future__ import annotations

import math
import os
from concurrent.futures import ProcessPoolExecutor

import pytest

from glowtrace.bench.ready_made import ready_made
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.measure.experiment import Known, experiment
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import table
from glowtrace.measure.trial_readings import drawn_truth, exact_readings, noisy_readings

TRUE = 1.06 * SPECIFIC_CHARGE  # not what the program has in its tables
METERS = {
    "ruler": Instrument(resolution=1e-3, judgement=0.7e-3, gain_limit=0.002),
    "accelerating_voltage": Instrument(resolution=1.0, gain_limit=0.006),
    "coil_current": Instrument(resolution=0.01, gain_limit=0.008),
}


def circles():
    """Circles in a bulb: knobs, and a rough guess of each diameter."""
    rows = [(200, 1.5, 0.08), (250, 1.5, 0.09), (250, 1.4, 0.10), (150, 1.5, 0.07),
            (200, 2.0, 0.06), (150, -1.3, 0.08)]  # fmt: skip
    cells = [
        {"accelerating_voltage": float(v), "coil_current": i, "diameter": d} for v, i, d in rows
    ]
    known = {
        "coil_constant": Known(None, 0.004 * 7.79e-4),
        "contact_offset": Known(0.0, 0.7),
        "earth_z": Known(0.0, 8e-6),
    }
    return experiment(ready_made("fine-beam bulb"), table("circle", cells, METERS), known=known)


def nulls():
    """Nulls between plates, with plates-only points that calibrate the gap."""
    meters = METERS | {"plate_voltage": Instrument(resolution=1.0, gain_limit=0.006)}
    nulls = table(
        "null",
        [
            {"accelerating_voltage": v, "coil_current": i, "plate_voltage": -sign * p}
            for v, i, p, sign in (
                (2000.0, 0.14, 830.0, 1), (3000.0, 0.14, 1000.0, 1), (3000.0, 0.2, 1450.0, 1),
                (4000.0, 0.2, 1650.0, 1), (3000.0, -0.2, 1450.0, -1),
            )
        ],
        meters,
    )  # fmt: skip
    points = table(
        "plates only",
        [
            {"accelerating_voltage": 3000.0, "plate_voltage": p, "x": x, "y": p / 1000.0 * y}
            for p in (1000.0, -1500.0)
            for x, y in ((0.05, 0.0026), (0.07, 0.0058), (0.09, 0.0103))
        ],
        {name: meter for name, meter in meters.items() if name != "coil_current"},
    )
    known = {
        "plate_gap": Known(None, 0.5e-3),
        "plate_length": Known(None, 1e-3),
        "coil_constant": Known(None, 0.005 * 4.2e-3),
        "grid_tilt": Known(0.0, 0.003),
        "grid_shift": Known(0.0, 0.3e-3),
    }
    return experiment(ready_made("deflection tube"), [nulls, points], known=known)


SETUPS = {"circles": circles, "nulls": nulls}


def is_covered(name: str, seed: int) -> bool:
    setup = SETUPS[name]()
    truth = drawn_truth(setup, seed, specific_charge=TRUE)
    trial = noisy_readings(setup, exact_readings(setup, truth), seed + 1_000_000)
    found = trial.fit()
    low, high = fit_budget(trial, found).interval
    return low <= TRUE <= high


def covered_share(name: str, seeds: int) -> float:
    # Two processes at most: other work runs beside the tests.
    with ProcessPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        hits = list(pool.map(is_covered, [name] * seeds, range(seeds), chunksize=10))
    return sum(hits) / seeds


@pytest.mark.parametrize("name", SETUPS)
def test_an_interval_holds_the_truth(name):
    assert is_covered(name, seed=1)


@pytest.mark.thorough
@pytest.mark.parametrize("name", SETUPS)
def test_most_intervals_hold_the_truth(name):
    # 40 trials: 95 % within three standard errors of 3.4 %
    assert covered_share(name, 40) >= 0.85


@pytest.mark.thorough
@pytest.mark.parametrize("name", SETUPS)
def test_coverage_of_the_95_percent_interval(name):
    assert 0.93 <= covered_share(name, 600) <= 0.97


def test_exact_readings_give_exactly_the_truth():
    for name in SETUPS:
        setup = SETUPS[name]()
        found = setup.with_tables(exact_readings(setup, {"specific_charge": TRUE})).fit()
        assert found.value("specific_charge") == pytest.approx(TRUE, rel=1e-6)
        assert found.chi_square == pytest.approx(0.0, abs=1e-6)
        assert math.isfinite(found.uncertainty("specific_charge"))
