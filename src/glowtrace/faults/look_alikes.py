"""Causes that make the same picture at every knob, and the check that tells them apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import softmax

from glowtrace.faults.advice import WORTH, enough_information
from glowtrace.faults.check import Check, Safety
from glowtrace.faults.fault import Fault
from glowtrace.faults.ranking import Ranking, entropy

Array = NDArray[np.float64]

_LIKELY = 0.02
"""Probability from which another cause is worth naming."""
_MOST = 3


@dataclass(frozen=True)
class LookAlike:
    """Another cause with the same picture.

    Attributes
    ----------
    fault
        The other cause.
    check
        What tells the two apart best, the safe checks first; None where none of the bench does.
    """

    fault: Fault
    check: Check | None


def look_alikes(ranking: Ranking, key: str) -> tuple[LookAlike, ...]:
    """Give the likely causes that no turned knob tells from a cause, the most probable first.

    The sizes of both causes count as what is seen has left them, and both as equally probable.

    Parameters
    ----------
    ranking
        What is known so far.
    key
        The cause.
    """
    others = [
        row.fault
        for row in ranking.standings
        if row.probability >= _LIKELY and row.fault.draw is not None and row.fault.key != key
    ]
    is_listed = any(one.fault.key == key for one in ranking.suspects.suspects)
    found = [_look_alike(ranking, key, other) for other in others if is_listed]
    return tuple(one for one in found if one is not None)[:_MOST]


def _look_alike(ranking: Ranking, key: str, other: Fault) -> LookAlike | None:
    checks = ranking.suspects.checks
    bits = {check.key: _bits_between(ranking, check, key, other.key) for check in checks}
    turned = {
        check.key
        for check in checks
        if check.safety is Safety.SAFE and check.key in ranking.suspects.variations
    }
    if any(bits[each] >= WORTH for each in turned):
        return None
    left = ranking.checks_left
    enough = enough_information(bits[check.key] for check in left)
    telling = [check for check in left if bits[check.key] >= enough]
    best = min(telling, key=lambda check: (check.safety, -bits[check.key]), default=None)
    return LookAlike(other, best)


def _bits_between(ranking: Ranking, check: Check, one: str, other: str) -> float:
    """Give the information of a check in bits where it is one of two causes, 1 : 1."""
    shares = np.stack([_outcomes(ranking, check, key) for key in (one, other)])
    chance = shares.mean(axis=0)
    left = sum(
        float(p) * entropy(column / column.sum())
        for p, column in zip(chance, shares.T, strict=True)
    )
    return max(0.0, 1.0 - left)


def _outcomes(ranking: Ranking, check: Check, key: str) -> Array:
    weights = softmax(ranking.log_likelihoods[key])
    return np.asarray(weights @ check.likelihood(ranking.suspects.suspect(key)))
