"""Which check to make next: the one that is expected to tell most, the safe ones first.

The rule: a check is worth making when its expected information is at least `WORTH` bits and at
least the part `SHARE` of that of the most informative check. Those that are come first, by their
safety (safe, off, lead, responsible) and within that by their expected information; after them the
others, by their information. So a safe check goes before a more telling one that is less safe,
unless it would tell next to nothing. A check that was made, or that a statement has told already,
is not asked for again.

References
----------
D. V. Lindley, "On a measure of the information provided by an experiment", Ann. Math. Statist. 27
(1956) 986-1005: the expected gain of an experiment is the entropy before it minus the mean entropy
after it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import softmax

from glowtrace.faults.check import Check
from glowtrace.faults.fault import Fault
from glowtrace.faults.ranking import Ranking, entropy, outcome_chances

Array = NDArray[np.float64]

WORTH: Final = 0.1
"""Expected information in bits from which a check is worth making."""
SHARE: Final = 0.25
"""The same as a part of that of the most informative check."""
_TOLD = 3
"""Faults that are named for an outcome, at most."""
_UNLIKELY = 0.05
"""Probability below which a fault is not named for an outcome."""


@dataclass(frozen=True)
class Prospect:
    """One outcome of a check, before the check is made.

    Attributes
    ----------
    outcome
        In plain words.
    probability
        That it comes out.
    after
        What the ranking would be then: the most probable faults with their probabilities.
    """

    outcome: str
    probability: float
    after: tuple[tuple[Fault, float], ...]

    @property
    def meaning(self) -> str:
        """What the outcome would mean, as a sentence."""
        likely = [pair for pair in self.after if pair[1] >= _UNLIKELY] or [self.after[0]]
        named = [f"{fault.title} ({_percent(chance)})" for fault, chance in likely]
        return f"Then most likely: {'; '.join(named)}."


@dataclass(frozen=True)
class Advice:
    """One check with what is to be expected of it.

    Attributes
    ----------
    check
        What to do.
    information
        Expected information in bits.
    prospects
        Its outcomes, in their order.
    """

    check: Check
    information: float
    prospects: tuple[Prospect, ...]

    def as_dict(self) -> dict[str, Any]:
        """Give the advice as plain data."""
        return {
            "check": self.check.key,
            "do": self.check.do,
            "safety": self.check.safety.name.lower(),
            "duration_s": 60.0 * self.check.minutes,
            "information_bits": self.information,
            "outcomes": [
                {
                    "outcome": one.outcome,
                    "probability": one.probability,
                    "then": [
                        {"fault": fault.key, "title": fault.title, "probability": chance}
                        for fault, chance in one.after
                    ],
                }
                for one in self.prospects
            ],
        }


def next_checks(ranking: Ranking, limit: int | None = None) -> tuple[Advice, ...]:
    """Give the checks that have not been made yet, the next one first.

    Parameters
    ----------
    ranking
        What is known so far.
    limit
        How many to give at most.
    """
    advice = [advise(ranking, one) for one in ranking.checks_left]
    enough = enough_information(one.information for one in advice)

    def order(one: Advice) -> tuple[bool, int, float]:
        is_worth = one.information >= enough
        return not is_worth, one.check.safety if is_worth else 0, -one.information

    return tuple(sorted(advice, key=order)[:limit])


def enough_information(bits: Iterable[float]) -> float:
    """Give the bits from which a check is worth making, among checks that bring these."""
    return max(WORTH, SHARE * max(bits, default=0.0))


def advise(ranking: Ranking, check: Check) -> Advice:
    """Work out what is to be expected of one check."""
    shares = _shares_of_outcomes(ranking, outcome_chances(ranking, check))
    before = np.array(list(ranking.probabilities.values()))
    joint = before[:, None] * shares
    chance = joint.sum(axis=0)
    after = joint / np.maximum(chance, 1e-300)
    left = sum(p * entropy(column) for p, column in zip(chance, after.T, strict=True))
    prospects = tuple(
        Prospect(words, float(p), _top(ranking, column))
        for words, p, column in zip(check.outcomes, chance, after.T, strict=True)
    )
    return Advice(check, max(0.0, entropy(before) - float(left)), prospects)


def _shares_of_outcomes(ranking: Ranking, chances: Mapping[str, Array]) -> Array:
    """Give the chance (faults, outcomes) of each outcome, draws weighted as they stand now."""
    return np.stack(
        [
            softmax(ranking.log_likelihoods[fault.key]) @ chances[fault.key]
            for fault in ranking.suspects.faults
        ]
    )


def _top(ranking: Ranking, probabilities: Array) -> tuple[tuple[Fault, float], ...]:
    order = np.argsort(-probabilities)[:_TOLD]
    return tuple((ranking.suspects.faults[n], float(probabilities[n])) for n in order)


def _percent(chance: float) -> str:
    return "over\u00a099\u00a0%" if chance > 0.995 else f"{100.0 * chance:.0f}\u00a0%"
