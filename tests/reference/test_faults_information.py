"""The ranking and the choice of checks against numbers worked out elsewhere.

Bayes' rule by hand; the information of a check with errors is that of the binary symmetric channel,
1 - H(p) (T. M. Cover and J. A. Thomas, "Elements of Information Theory", 2nd ed., section 7.1.4);
the expected gain is D. V. Lindley's, Ann. Math. Statist. 27 (1956) 986.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from glowtrace.errors import BenchError
from glowtrace.faults import Safety, Sighting, advise, next_checks, update
from glowtrace.faults.check import MISTAKEN, Check
from glowtrace.faults.fault import Fault
from glowtrace.faults.ranking import Ranking, entropy


def fault(key: str, odds: float) -> Fault:
    return Fault(
        key, key, "nothing", odds, "", "",
        applies=lambda bench, settings: True,
        draw=lambda scene, rng: lambda condition: condition,
    )  # fmt: skip


def check(key: str, table: dict[str, list[float]], safety: Safety = Safety.SAFE) -> Check:
    """Make a check with the given chance of each outcome, by fault."""
    count = len(next(iter(table.values())))
    outcomes = tuple(f"outcome {n}" for n in range(count))

    def chances(suspect) -> np.ndarray:
        return np.tile(np.array(table[suspect.fault.key]), (len(suspect.conditions), 1))

    return Check(key, "", safety, 1.0, outcomes, chances)


def ranking(odds: dict[str, float], logs: dict[str, list[float]], checks: list[Check]) -> Ranking:
    faults = tuple(fault(key, value) for key, value in odds.items())
    suspects = SimpleNamespace(
        faults=faults,
        suspects=tuple(
            SimpleNamespace(fault=one, conditions=[None] * len(logs[one.key])) for one in faults
        ),
        checks=tuple(checks),
        statements=(),
    )
    return Ranking(suspects, Sighting(), (), {key: np.array(each) for key, each in logs.items()})


def test_probability_is_odds_times_mean_likelihood():
    """3 : 1 with mean likelihoods (0.1 + 0.3) / 2 and 0.6: 0.6 : 0.6."""
    found = ranking({"a": 3.0, "b": 1.0}, {"a": np.log([0.1, 0.3]), "b": np.log([0.6])}, [])
    assert found.probabilities == pytest.approx({"a": 0.5, "b": 0.5})


def test_a_rare_fault_stays_improbable_after_one_positive_test():
    """The textbook's screening test: 1 % rare, 99 % true and 5 % false positives: 1 in 6."""
    test = check("test", {"ill": [0.99, 0.01], "well": [0.05, 0.95]})
    before = ranking({"ill": 0.01, "well": 0.99}, {"ill": [0.0], "well": [0.0]}, [test])
    after = update(before, "test", "outcome 0")
    told = (1 - MISTAKEN) * np.array([0.99, 0.05]) + MISTAKEN / 2
    expected = 0.01 * told[0] / (0.01 * told[0] + 0.99 * told[1])
    assert after.probabilities["ill"] == pytest.approx(expected, rel=1e-9)
    assert after.probabilities["ill"] == pytest.approx(1 / 6, abs=0.05)


def test_information_of_a_check_with_mistakes_is_that_of_a_noisy_channel():
    test = check("test", {"a": [1.0, 0.0], "b": [0.0, 1.0]})
    found = advise(ranking({"a": 1.0, "b": 1.0}, {"a": [0.0], "b": [0.0]}, [test]), test)
    p = MISTAKEN / 2
    capacity = 1 + p * math.log2(p) + (1 - p) * math.log2(1 - p)
    assert found.information == pytest.approx(capacity, rel=1e-9)


def test_entropy_of_equal_chances_is_their_number_of_bits():
    assert entropy(np.full(8, 1 / 8)) == pytest.approx(3.0)
    assert entropy(np.array([1.0, 0.0])) == 0.0


def test_a_check_that_all_faults_answer_alike_tells_nothing():
    test = check("test", {"a": [0.3, 0.7], "b": [0.3, 0.7]})
    found = advise(ranking({"a": 1.0, "b": 2.0}, {"a": [0.0], "b": [0.0]}, [test]), test)
    assert found.information == pytest.approx(0.0, abs=1e-12)


def test_what_an_outcome_would_mean_is_what_it_means_once_it_is_there():
    test = check("test", {"a": [0.8, 0.2], "b": [0.1, 0.9]})
    before = ranking({"a": 1.0, "b": 2.0}, {"a": np.log([0.2, 0.9]), "b": [-0.3]}, [test])
    for one in advise(before, test).prospects:
        after = update(before, "test", one.outcome).probabilities
        assert {each.key: chance for each, chance in one.after} == pytest.approx(after)


def test_expected_posterior_of_the_truth_rises():
    """By Jensen's inequality the mean of p(true | outcome) under the truth is at least p(true)."""
    test = check("test", {"a": [0.7, 0.3], "b": [0.4, 0.6]})
    before = ranking({"a": 1.0, "b": 1.0}, {"a": [0.0], "b": [0.0]}, [test])
    mean = sum(
        chance * update(before, "test", outcome).probabilities["a"]
        for outcome, chance in zip(test.outcomes, [0.7, 0.3], strict=True)
    )
    assert mean > before.probabilities["a"]


def test_a_safe_check_goes_before_a_better_one_that_is_less_safe():
    good = {"a": [1.0, 0.0], "b": [0.0, 1.0]}
    fair = {"a": [0.85, 0.15], "b": [0.15, 0.85]}
    poor = {"a": [0.52, 0.48], "b": [0.48, 0.52]}
    checks = [
        check("swap leads", good, Safety.LEAD),
        check("look", fair, Safety.SAFE),
        check("glance", poor, Safety.SAFE),
        check("compass", good, Safety.OFF),
    ]
    found = next_checks(ranking({"a": 1.0, "b": 1.0}, {"a": [0.0], "b": [0.0]}, checks))
    assert [one.check.key for one in found] == ["look", "compass", "swap leads", "glance"]


def test_a_check_is_not_asked_for_twice():
    test = check("test", {"a": [1.0, 0.0], "b": [0.0, 1.0]})
    before = ranking({"a": 1.0, "b": 1.0}, {"a": [0.0], "b": [0.0]}, [test])
    assert next_checks(update(before, "test", "outcome 1")) == ()


def test_simulation_uncertainty_is_that_of_a_mean():
    """Two draws of likelihoods 1 and 3: mean 2, standard error 1, so 50 % of the odds."""
    found = ranking({"a": 1.0, "b": 1.0}, {"a": np.log([1.0, 3.0]), "b": np.log([2.0, 2.0])}, [])
    assert found.probabilities["a"] == pytest.approx(0.5)
    assert found.uncertainties["a"] == pytest.approx(0.5 * 0.5 * 0.5)
    assert found.uncertainties["b"] == pytest.approx(0.5 * 0.5 * 0.5)


def test_unknown_checks_and_outcomes_are_refused_with_the_nearest_name():
    test = check("coil current", {"a": [1.0, 0.0], "b": [0.0, 1.0]})
    before = ranking({"a": 1.0, "b": 1.0}, {"a": [0.0], "b": [0.0]}, [test])
    with pytest.raises(BenchError, match="did you mean coil current"):
        update(before, "coil curent", "outcome 0")
    with pytest.raises(BenchError, match="outcome 1"):
        update(before, "coil current", "outcome")
