"""The faults ranked: how likely each is after what is seen and what the checks gave.

Bayes' rule with the sizes of each fault averaged over: the probability of a fault is its prior odds
times the mean likelihood over its draws. Each draw keeps its own likelihood, so that checks go on
from where the sighting left it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from glowtrace.bench.wrong_fields import unknown_name
from glowtrace.errors import BenchError
from glowtrace.faults.appearance import Appearance
from glowtrace.faults.check import Check
from glowtrace.faults.fault import Fault
from glowtrace.faults.sighting import (
    Sighting,
    log_likelihood,
    log_likelihood_otherwise,
    require_known,
)
from glowtrace.faults.suspects import Suspects
from glowtrace.faults.variations import AS_SET

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Standing:
    """Where one fault stands.

    Attributes
    ----------
    fault
        The fault.
    probability
        That it is this one, 0 to 1.
    uncertainty
        Standard uncertainty of the probability from the finite number of draws.
    appearance
        What it would look like as set, at the size that fits best; None for something else.
    """

    fault: Fault
    probability: float
    uncertainty: float
    appearance: Appearance | None


@dataclass(frozen=True, eq=False)
class Ranking:
    """All faults ranked; made by `rank` and `update`.

    Attributes
    ----------
    suspects
        The table that it was made with.
    sighting
        What was seen.
    answers
        Checks that were made, with the outcome of each.
    log_likelihoods
        By fault, the logarithm (n,) of the likelihood of all this for each draw.
    """

    suspects: Suspects
    sighting: Sighting
    answers: tuple[tuple[str, str], ...]
    log_likelihoods: Mapping[str, Array]

    @cached_property
    def probabilities(self) -> dict[str, float]:
        """Probability of each fault, in the order of the library."""
        faults = self.suspects.faults
        logs = np.array(
            [np.log(fault.odds) + _log_mean(self.log_likelihoods[fault.key]) for fault in faults]
        )
        shares = np.exp(logs - logsumexp(logs))
        return {fault.key: float(share) for fault, share in zip(faults, shares, strict=True)}

    @cached_property
    def uncertainties(self) -> dict[str, float]:
        """Standard uncertainty of each probability, from the finite number of draws alone."""
        chance = np.array(list(self.probabilities.values()))
        errors = np.array(
            [_relative_error(self.log_likelihoods[key]) for key in self.probabilities]
        )
        all_of_them = ((chance * errors) ** 2).sum()
        own = ((1.0 - chance) ** 2 - chance**2) * errors**2
        spread = chance * np.sqrt(np.maximum(all_of_them + own, 0.0))
        return dict(zip(self.probabilities, spread.tolist(), strict=True))

    @cached_property
    def standings(self) -> tuple[Standing, ...]:
        """All faults, the most probable first."""
        rows = [self._standing(fault) for fault in self.suspects.faults]
        return tuple(sorted(rows, key=lambda row: -row.probability))

    @property
    def first(self) -> Standing:
        """The most probable fault."""
        return self.standings[0]

    @property
    def nothing_fits(self) -> bool:
        """Whether none of the faults in the list explains what is seen."""
        return self.first.fault.draw is None

    @property
    def bits_open(self) -> float:
        """Entropy of the ranking in bits: 0 when the fault is certain."""
        return entropy(np.array(list(self.probabilities.values())))

    @property
    def told(self) -> frozenset[str]:
        """Keys of the checks that statements, or lines in other states, have told already.

        A statement that is seen tells its checks; that it is not seen does so only together with
        all others that tell the same check.
        """
        seen, not_seen = set(self.sighting.seen), set(self.sighting.not_seen)
        telling: dict[str, set[str]] = {}
        for one in self.suspects.statements:
            for check in one.tells:
                telling.setdefault(check, set()).add(one.key)
        by_words = {key for key, words in telling.items() if words & seen or words <= not_seen}
        return frozenset(by_words | {key for key, _ in self.sighting.other_lines})

    @property
    def checks_left(self) -> tuple[Check, ...]:
        """The checks of the bench that are neither made nor told."""
        done = {key for key, _ in self.answers} | self.told
        return tuple(check for check in self.suspects.checks if check.key not in done)

    def as_dict(self) -> dict[str, Any]:
        """Give the ranking as plain data."""
        return {
            "bench": self.suspects.bench.name,
            "seen": list(self.sighting.seen),
            "not_seen": list(self.sighting.not_seen),
            "line_points": {key: len(points) for key, points in self.sighting.lines},
            "answers": [{"check": key, "outcome": outcome} for key, outcome in self.answers],
            "model": "bench",
            "nothing_fits": self.nothing_fits,
            "ranking": [
                {
                    "fault": row.fault.key,
                    "title": row.fault.title,
                    "probability": row.probability,
                    "uncertainty": row.uncertainty,
                    "why": row.fault.why,
                    "remedy": row.fault.remedy,
                }
                for row in self.standings
            ],
        }

    def _standing(self, fault: Fault) -> Standing:
        logs = self.log_likelihoods[fault.key]
        appearance = None
        if fault.draw is not None:
            look = self.suspects.suspect(fault.key).looks[AS_SET]
            appearance = look.one(int(np.argmax(logs)))
        return Standing(
            fault, self.probabilities[fault.key], self.uncertainties[fault.key], appearance
        )


def rank(suspects: Suspects, sighting: Sighting) -> Ranking:
    """Rank the faults after what is seen.

    Parameters
    ----------
    suspects
        The faults of the bench at its settings.
    sighting
        What is seen; nothing at all gives the prior odds.

    Raises
    ------
    BenchError
        A statement that is not made on this bench.
    """
    require_known(sighting, suspects.statements, suspects.variations)
    is_spot = suspects.bench.plane.is_spot
    found = {
        one.fault.key: log_likelihood(
            sighting,
            suspects.statements,
            one.looks,
            suspects.usual,
            suspects.extent,
            is_spot,
            one.fault.between,
        )
        for one in suspects.suspects
    }
    for fault in suspects.faults:
        if fault.draw is None:
            value = log_likelihood_otherwise(
                sighting, suspects.statements, suspects.extent, is_spot
            )
            found[fault.key] = np.array([value])
    return Ranking(suspects, sighting, (), found)


def update(ranking: Ranking, check: str, outcome: str) -> Ranking:
    """Go on after a check.

    Parameters
    ----------
    ranking
        Before the check.
    check
        Its key.
    outcome
        One of its outcomes.

    Raises
    ------
    BenchError
        There is no such check or outcome on this bench.
    """
    made = find_check(ranking, check)
    if outcome not in made.outcomes:
        raise BenchError(f'check "{check}"', [unknown_name("outcome", outcome, made.outcomes)])
    chances = outcome_chances(ranking, made)
    column = made.outcomes.index(outcome)
    logs = {
        key: ranking.log_likelihoods[key] + np.log(chance[:, column])
        for key, chance in chances.items()
    }
    return replace(ranking, answers=(*ranking.answers, (check, outcome)), log_likelihoods=logs)


def find_check(ranking: Ranking, key: str) -> Check:
    """Give a check of the bench by its key.

    Raises
    ------
    BenchError
        There is none of this key.
    """
    for check in ranking.suspects.checks:
        if check.key == key:
            return check
    known = [check.key for check in ranking.suspects.checks]
    raise BenchError("checks", [unknown_name("check", key, known)])


def outcome_chances(ranking: Ranking, check: Check) -> dict[str, Array]:
    """Give, by fault, the chance (n, outcomes) of each outcome of a check for each draw.

    Something that is not in the list is taken to answer as the faults in it do on average.
    """
    suspects = ranking.suspects.suspects
    found = {one.fault.key: check.likelihood(one) for one in suspects}
    weights = np.array([one.fault.odds for one in suspects])
    means = np.stack([found[one.fault.key].mean(axis=0) for one in suspects])
    for fault in ranking.suspects.faults:
        if fault.draw is None:
            found[fault.key] = np.average(means, axis=0, weights=weights)[None]
    return found


def entropy(probabilities: Array) -> float:
    """Entropy of probabilities that add up to 1, in bits."""
    some = probabilities[probabilities > 0.0]
    return float(-(some * np.log2(some)).sum())


def _log_mean(logs: Array) -> float:
    return float(logsumexp(logs) - np.log(len(logs)))


def _relative_error(logs: Array) -> float:
    """Give the relative standard error of the mean likelihood over the draws."""
    if len(logs) < 2:
        return 0.0
    weights = np.exp(logs - logs.max())
    return float(weights.std(ddof=1) / np.sqrt(len(weights)) / weights.mean())
