"""A knob estimated from the line of rendered films: the true value is the one they were made with.

That a 95 % interval holds the truth 93 to 97 times of a hundred is what it means; the bounds for a
number of films are three standard deviations of the binomial distribution about 0.95.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from film_estimates import BASE, trial
from glowtrace.bench.computed_line import computed_line
from glowtrace.films.knob_estimate import estimate, knob_table

U = np.linspace(0.013, 0.104, 92)


@pytest.fixture(scope="module")
def table(deflection_tube):
    return knob_table(deflection_tube, BASE, "plate_voltage", U)


@pytest.mark.slow
def test_a_rendered_film_tells_its_plate_voltage(deflection_tube):
    true, value, half, _ = trial(deflection_tube, 3)
    assert abs(value - true) < 2 * half
    assert half < 10.0


@pytest.mark.thorough
def test_the_interval_holds_as_often_as_it_says(deflection_tube):
    table, held, films = None, 0, 60
    for seed in range(100, 100 + films):
        true, value, half, table = trial(deflection_tube, seed, table)
        held += abs(value - true) < half
    spread = math.sqrt(0.95 * 0.05 / films)
    assert abs(held / films - 0.95) < 3 * spread


def test_independent_errors_of_heights_are_in_the_interval(deflection_tube, table):
    """Heights with normal errors of 0.1 mm and a shared shift of 0.02 mm, as is assumed."""
    rng, held, count = np.random.default_rng(1), 0, 200
    heights = computed_line(deflection_tube, BASE.turned(plate_voltage=640.0)).at(U)
    for _ in range(count):
        noisy = heights + rng.normal(0, 1e-4, len(U)) + rng.normal(0, 2e-5)
        found = estimate(U, noisy, table, 0.0)
        held += abs(found.value - 640.0) < found.half
    assert abs(held / count - 0.95) < 3 * math.sqrt(0.95 * 0.05 / count) + 0.02


def test_a_line_that_tells_nothing_gives_no_estimate(deflection_tube, table):
    unseen = np.full(len(U), np.nan)
    assert math.isnan(estimate(U, unseen, table, 0.0).value)
    # Without a deflecting field the line is straight at every accelerating voltage.
    straight = knob_table(deflection_tube, BASE, "accelerating_voltage", U)
    heights = computed_line(deflection_tube, BASE).at(U)
    found = estimate(U, heights, straight, 0.0)
    assert math.isnan(found.value)
    assert "not told" in found.words("V")
