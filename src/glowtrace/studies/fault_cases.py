"""Told faults, and whether their cause is found again by what an onlooker who errs says.

Row after row takes the faults of the bench in turn, each at a size of its own, with an onlooker of
its own. The cause is looked for by the table of faults, and then by the checks that are proposed.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.faults import Ranking, Suspects, next_checks, rank, update
from glowtrace.faults.invented import InventedCase, invent_case
from glowtrace.studies.proportion import wilson
from glowtrace.sweeps.row import Row

FAULT: Final = "fault"
PLACE: Final = "place"
AFTER_CHECKS: Final = "place_after_checks"
UNNOTICED: Final = "nobody notices it"
TEMPLATE: Final[Row] = {
    FAULT: "", PLACE: math.nan, AFTER_CHECKS: math.nan, "probability": math.nan,
    "probability_after_checks": math.nan, "checks": math.nan, "first": "", "kind": "",
    "is_within_ratings": True,
}  # fmt: skip

_CHECKS: Final = 6
_SURE: Final = 0.95
"""Probability of the first cause at which nobody checks any further."""


class Found(NamedTuple):
    """How often a fault was found again, among the rows in which somebody notices it."""

    fault: str
    """Its key; empty for all faults together."""
    noticed: int
    unnoticed: int
    first: int
    among_two: int
    """First or second."""
    first_after_checks: int
    low: float
    high: float
    """Between which the share of `among_two` lies with 95 %, see `wilson`."""


def judged(suspects: Suspects, row: int, seed: int) -> Row:
    """Tell the case of a row, look for its cause, and give how that went."""
    faults = [
        one.fault
        for one in suspects.suspects
        if one.fault.group != "nothing" and one.fault not in suspects.hidden
    ]
    fault = faults[row % len(faults)]
    drawn = int(np.random.SeedSequence([seed, row]).generate_state(1)[0])
    case = invent_case(suspects, fault, drawn)
    ranking = rank(suspects, case.sighting)
    checked, count = _checked(ranking, case)
    place = _place(ranking, fault.key)
    named = ("the cause is first", "the cause is second", "the cause is later")[min(place, 3) - 1]
    return {
        **TEMPLATE,
        FAULT: fault.key,
        PLACE: float(place),
        AFTER_CHECKS: float(_place(checked, fault.key)),
        "probability": ranking.probabilities[fault.key],
        "probability_after_checks": checked.probabilities[fault.key],
        "checks": float(count),
        "first": ranking.first.fault.key,
        "kind": named if case.is_noticed else UNNOTICED,
    }


def _checked(ranking: Ranking, case: InventedCase) -> tuple[Ranking, int]:
    """Make the checks that are proposed until the first cause is sure enough; and how many."""
    for count in range(_CHECKS):
        advice = next_checks(ranking, 1)
        if not advice or (count > 0 and ranking.first.probability > _SURE):
            return ranking, count
        check = advice[0].check
        ranking = update(ranking, check.key, case.answer(check))
    return ranking, _CHECKS


def _place(ranking: Ranking, key: str) -> int:
    return 1 + [one.fault.key for one in ranking.standings].index(key)


def found_again(
    faults: NDArray[np.str_], kinds: NDArray[np.str_], places: NDArray[np.float64],
    after_checks: NDArray[np.float64],
) -> tuple[Found, ...]:  # fmt: skip
    """Sum up rows: all together, then each fault, the one that is found least first."""
    names = sorted(set(faults.tolist()))
    each = [_found(name, faults == name, kinds, places, after_checks) for name in names]
    whole = _found("", np.ones(len(faults), dtype=np.bool_), kinds, places, after_checks)
    return (whole, *sorted(each, key=lambda one: one.among_two / max(1, one.noticed)))


def _found(
    name: str, chosen: NDArray[np.bool_], kinds: NDArray[np.str_], places: NDArray[np.float64],
    after_checks: NDArray[np.float64],
) -> Found:  # fmt: skip
    noticed = chosen & (kinds != UNNOTICED)
    count, among_two = int(noticed.sum()), int((places[noticed] <= 2).sum())
    return Found(
        name,
        count,
        int(chosen.sum()) - count,
        int((places[noticed] == 1).sum()),
        among_two,
        int((after_checks[noticed] == 1).sum()),
        *wilson(among_two, count),
    )
