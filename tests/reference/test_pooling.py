"""Pooled results of groups against a published worked example and known special cases."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from glowtrace.errors import GlowtraceError
from glowtrace.measure.pooling import pool

# M. Borenstein, L. V. Hedges, J. P. T. Higgins, H. R. Rothstein, "Introduction to Meta-Analysis",
# Wiley 2009, chapter 14, worked example with six studies: values, weights (one over the variance),
# Q, tau^2, and both means. From memory.
VALUES = [0.0945, 0.2774, 0.3665, 0.6644, 0.4618, 0.1852]
WEIGHTS = [30.352, 32.568, 20.048, 95.111, 23.439, 42.698]


def test_worked_example_with_six_studies():
    found = pool(VALUES, 1.0 / np.sqrt(WEIGHTS))
    assert found.chi_square == pytest.approx(12.003, abs=0.01)
    assert found.between**2 == pytest.approx(0.037, abs=0.001)
    assert found.fixed == pytest.approx(0.414, abs=0.001)
    assert found.fixed_uncertainty == pytest.approx(0.064, abs=0.001)
    assert found.value == pytest.approx(0.358, abs=0.001)
    assert found.uncertainty == pytest.approx(0.105, abs=0.001)


def test_equal_uncertainties_give_the_plain_mean_and_its_scatter():
    # Closed form: tau^2 + s^2 is the sample variance, the uncertainty s_mean = sd / sqrt(k).
    values = [1.70, 1.74, 1.81, 1.90, 1.66]
    found = pool(values, [0.01] * 5)
    assert found.value == pytest.approx(np.mean(values))
    assert found.uncertainty == pytest.approx(stats.sem(values))
    assert found.birge_ratio == pytest.approx(np.std(values, ddof=1) / 0.01)
    assert found.birge_uncertainty == pytest.approx(stats.sem(values))
    low, high = stats.t.interval(0.95, 4, np.mean(values), stats.sem(values))
    assert found.interval == pytest.approx((low, high))


def test_groups_that_scatter_less_than_stated_have_no_variance_between():
    found = pool([1.75, 1.76, 1.77], [0.05, 0.05, 0.10])
    assert found.between == 0.0
    assert found.value == found.fixed
    assert found.birge_uncertainty == found.fixed_uncertainty == found.uncertainty


def test_intervals_hold_as_often_as_they_say():
    # 95 % of 400 simulated classes of 8 groups; the band is 4 standard deviations of a binomial.
    rng = np.random.default_rng(5)
    s = np.array([0.02, 0.03, 0.03, 0.04, 0.05, 0.05, 0.06, 0.08])
    held = 0
    for _ in range(400):
        low, high = pool(1.76 + rng.normal(0, np.hypot(s, 0.05)), s).interval
        held += low <= 1.76 <= high
    assert 0.95 - 4 * 0.011 < held / 400 < 0.95 + 4 * 0.011


def test_who_lies_out_is_named_and_nobody_else():
    values = [1.75, 1.77, 1.74, 1.78, 1.76, 1.20]
    found = pool(values, [0.02] * 6)
    assert found.lying_out.tolist() == [False] * 5 + [True]
    assert not pool([1.75, 1.77, 1.20], [0.02] * 3).lying_out.any()


@pytest.mark.parametrize(
    ("values", "uncertainties"),
    [([1.7], [0.1]), ([1.7, 1.8], [0.1]), ([1.7, 1.8], [0.1, 0.0]), ([1.7, np.nan], [0.1, 0.1])],
)
def test_what_cannot_be_pooled_is_refused(values, uncertainties):
    with pytest.raises(GlowtraceError):
        pool(values, uncertainties)
