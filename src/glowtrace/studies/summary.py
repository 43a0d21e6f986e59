"""What a study found: how what is read is distributed, and which numbers make it so."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.ratings import KNOBS
from glowtrace.bench.wrong_fields import unknown_name
from glowtrace.errors import GlowtraceError
from glowtrace.studies.fault_cases import AFTER_CHECKS, FAULT, PLACE, Found, found_again
from glowtrace.studies.hidden_truth import HALF_WIDTH, HOLDS, VALUE, Coverage, coverage
from glowtrace.studies.kept import KeptRows
from glowtrace.studies.rows import PROBLEM, Columns
from glowtrace.studies.shares import Share, linear_shares, variance_shares
from glowtrace.studies.study import Study

Array = NDArray[np.float64]

QUANTILES: Final = (0.025, 0.25, 0.5, 0.75, 0.975)
_USUAL: Final = (VALUE, "circle_m", "spot_m", "height_m")
"""What a summary is about: the first of which there is a number."""


@dataclass(frozen=True)
class Outcome:
    """How one thing that is read is distributed over the rows; SI units."""

    name: str
    count: int
    """Rows that have it."""
    missing: int
    """Rows that do not: no beam there, or no such bench."""
    mean: float
    deviation: float
    """Standard, of the sample."""
    quantiles: tuple[float, ...]
    """At `QUANTILES`."""
    shares: tuple[Share, ...]
    """Of the variance, the largest first; of its straight-line part where a row has a gap."""
    explained: float
    """Part of the variance that the shares ``alone`` add up to; NaN without."""


@dataclass(frozen=True)
class Design:
    """One combination of a bench's numbers, and what is seen on it."""

    numbers: Mapping[str, float]
    rows: int
    """Settings of which there can be a picture."""
    shown: int
    """Rows that show what is wanted."""
    ends: Mapping[str, tuple[float, float]]
    """Lowest and highest value of each knob that shows it."""


@dataclass(frozen=True)
class Summary:
    """What a study found so far."""

    study: Study
    rows: int
    outcomes: tuple[Outcome, ...]
    kinds: Mapping[str, int]
    """Rows of each kind of picture, the most frequent first."""
    beyond_ratings: int
    impossible: int
    """Rows of benches that cannot be; ``problem`` says why."""
    problem: str
    """Of the first of these."""
    designs: tuple[Design, ...]
    """With the plan "designs" and something wanted: the best first."""
    coverage: Coverage | None = None
    """With the plan "hidden truth"."""
    found_again: tuple[Found, ...] = ()
    """With the plan "faults": all together, then each, the one that is found least first."""

    def record(self) -> dict[str, Any]:
        """Give it as plain data."""
        return {
            "rows": self.rows,
            "of_rows": self.study.count,
            "outcomes": {
                each.name: {
                    "count": each.count, "missing": each.missing, "mean": each.mean,
                    "standard_deviation": each.deviation,
                    "quantiles": dict(zip(map(str, QUANTILES), each.quantiles, strict=True)),
                    "explained": each.explained,
                    "shares": [share._asdict() for share in each.shares],
                }
                for each in self.outcomes
            },
            "kinds": dict(self.kinds),
            "beyond_ratings": self.beyond_ratings,
            "impossible": self.impossible,
            "problem": self.problem,
            "coverage": self.coverage and self.coverage._asdict(),
            "found_again": [each._asdict() for each in self.found_again],
            "designs": [
                {"numbers": dict(each.numbers), "rows": each.rows, "shown": each.shown,
                 "from": {name: ends[0] for name, ends in each.ends.items()},
                 "to": {name: ends[1] for name, ends in each.ends.items()}}
                for each in self.designs
            ],
        }  # fmt: skip


def summarise(study: Study, kept: KeptRows) -> Summary:
    """Sum up the rows that are there; see `Summary`.

    Raises
    ------
    GlowtraceError
        No row is there, or the study reads what is no column.
    """
    there = kept.numbers()
    for name in study.read:
        if name not in there:
            raise GlowtraceError(unknown_name("read", name, there))
    wanted = [*study.read] or [name for name in _USUAL if name in there]
    measures = study.measurement is not None
    tells = study.plan == "faults"
    marks = (
        "kind", "is_within_ratings", PROBLEM, *((HOLDS, HALF_WIDTH) if measures else ()),
        *((FAULT, PLACE, AFTER_CHECKS) if tells else ()),
    )  # fmt: skip
    columns = kept.read(dict.fromkeys(("row", *study.columns, *wanted, *marks)))
    is_search = study.plan == "designs" and study.wanted is not None
    names = study.read or (() if is_search or tells else (_first_read(columns, wanted),))
    is_possible = columns[PROBLEM] == ""
    kinds = dict(zip(*np.unique(columns["kind"][is_possible], return_counts=True), strict=True))
    ordered = sorted(kinds.items(), key=lambda item: -item[1])
    problems = columns[PROBLEM][~is_possible]
    return Summary(
        study,
        len(is_possible),
        tuple(outcome(study, name, columns) for name in names),
        {str(name): int(count) for name, count in ordered},
        int((is_possible & ~columns["is_within_ratings"]).sum()),
        len(problems),
        str(problems[0]) if len(problems) else "",
        designs(study, columns) if is_search else (),
        coverage(columns[HOLDS], columns[HALF_WIDTH]) if measures else None,
        found_again(*(columns[name] for name in (FAULT, "kind", PLACE, AFTER_CHECKS)))
        if tells
        else (),
    )


def outcome(study: Study, name: str, columns: Columns) -> Outcome:
    """Sum up one thing that is read."""
    read = columns[name]
    has = np.isfinite(read)
    found = read[has]
    if not len(found):
        blank = (math.nan,) * len(QUANTILES)
        return Outcome(name, 0, len(read), math.nan, math.nan, blank, (), math.nan)
    shares: tuple[Share, ...] = ()
    explained = math.nan
    if study.plan == "shares" and len(found) == study.count:
        shares = variance_shares(study.names, found, study.seed)
        explained = sum(each.alone for each in shares)
    elif study.plan not in ("designs", "faults"):
        values = np.stack([columns[each][has] for each in study.columns], axis=1)
        shares, explained = linear_shares(study.names, values, found)
    return Outcome(
        name,
        len(found),
        len(read) - len(found),
        float(found.mean()),
        float(found.std(ddof=1)) if len(found) > 1 else math.nan,
        tuple(np.quantile(found, QUANTILES).tolist()),
        tuple(sorted(shares, key=lambda each: -each.size)),
        explained,
    )


def designs(study: Study, columns: Columns) -> tuple[Design, ...]:
    """Give each combination of the bench's numbers with what is seen on it, the best first.

    Only rows within the ratings count as showing what is wanted.
    """
    named = dict(zip(study.names, study.columns, strict=True))
    numbers = {name: column for name, column in named.items() if name not in KNOBS}
    knobs = {name: column for name, column in named.items() if name in KNOBS}
    shows = (columns["kind"] == study.wanted) & columns["is_within_ratings"]
    size = study.settings_a_bench
    found = []
    for _, places in _groups(columns["row"] // size):
        seen = places[shows[places]]
        ends = {
            name: (float(columns[column][seen].min()), float(columns[column][seen].max()))
            for name, column in knobs.items()
            if len(seen)
        }
        told = {name: float(columns[column][places[0]]) for name, column in numbers.items()}
        possible = int((columns[PROBLEM][places] == "").sum())
        found.append(Design(told, possible, len(seen), ends))
    return tuple(sorted(found, key=lambda each: -each.shown))


def _groups(keys: NDArray[Any]) -> Any:
    order = np.argsort(keys, kind="stable")
    values, starts = np.unique(keys[order], return_index=True)
    return zip(values.tolist(), np.split(order, starts[1:]), strict=True)


def _first_read(columns: Columns, names: list[str]) -> str:
    return next((name for name in names if np.isfinite(columns[name]).any()), names[-1])
