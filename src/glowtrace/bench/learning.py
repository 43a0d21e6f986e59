"""What is believed about the numbers of a bench: from its file, and from what was seen on it.

Observations are kept, not results: the numbers of the file stay what was measured beforehand, and
each time what was seen is brought together with them by Bayes' rule, about the forward model
(Gauss and Newton: where the line is not straight enough in the numbers, about the numbers found).

Index letters: n numbers, o observed values.

References
----------
C. D. Rodgers, Inverse Methods for Atmospheric Sounding, World Scientific 2000, sections 2.3 (a
linear model) and 5.3 (Gauss-Newton).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from glowtrace.bench.arguments import require_kind
from glowtrace.bench.doubts import Doubts, Seen
from glowtrace.bench.knowledge import Knowledge, knowledge_of
from glowtrace.bench.line_response import (
    Response,
    line_response,
    response_along,
    shifted_field,
    shifted_path,
)
from glowtrace.bench.model import Bench
from glowtrace.bench.number_effects import NumberEffects
from glowtrace.bench.path import Path
from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.units import format_quantity

Array = NDArray[np.float64]

LEFT_OUT: Final = 1e-3
"""What the model leaves out, as a part of the distance from the aperture: 0.1 mm at 100 mm. A
guess; it keeps many readings of one line from being trusted beyond the model."""
UNLIKELY: Final = 0.01
"""Probability below which what was seen contradicts what is known."""
_ROUNDING: Final = 1e-10
_MOST_STEPS: Final = 4
_SETTLED: Final = 0.02
"""Change of a number, in its standard uncertainties, below which it is found."""
_STRAIGHT: Final = 0.2
"""Change between the linear answer and the final one, likewise, that still counts as none."""
_FARTHEST: Final = 20.0
"""Standard uncertainties beyond which no number is suspected: it is something else then."""
_DETERMINED: Final = 0.6
"""Part of its former uncertainty that a combination of numbers has left where it was determined."""
_HEAVY: Final = 0.35
"""Weight in a combination (of a sum of squares of 1) from which on a number is named."""


@dataclass(frozen=True, eq=False)
class Belief:
    """Where the numbers are believed to be: a shift (n,) from the bench's own, and a covariance."""

    names: tuple[str, ...]
    shift: Array
    covariance: Array

    def size(self, slopes: Array) -> float:
        """Standard uncertainty of what changes by ``slopes`` (n,) for each unit of each number."""
        return math.sqrt(max(float(slopes @ self.covariance @ slopes), 0.0))


@dataclass(frozen=True)
class Combination:
    """Numbers of which one combination is now better known; none of them needs to be so alone."""

    numbers: tuple[tuple[str, float], ...]
    """Name and weight, in their former standard uncertainties."""
    left: float
    """Part of the former uncertainty that is left."""


@dataclass(frozen=True)
class Suspect:
    """The number that most likely is wrong where what was seen contradicts what is known."""

    name: str
    value: float
    """What it would have to be, in SI; of what stands under "slack", the shift."""
    away: float
    """How many of its standard uncertainties that is away."""


@dataclass(frozen=True, eq=False)
class Learnt:
    """What was learnt from what was seen.

    Attributes
    ----------
    before, after
        What is believed without and with it.
    residuals, spreads
        (o,) seen minus foretold, in m, and the standard uncertainty of that beforehand.
    probability
        Of what was seen to lie as far from what was foretold, if the description is right.
    suspect, odd
        Where it is unlikely: the number that would explain it, and the place among ``seen`` of the
        one reading without which the rest agrees; None where there is no such.
    combinations
        What is better known now.
    is_linear
        Whether a straight-line estimate would have done.
    """

    before: Belief
    after: Belief
    residuals: Array
    spreads: Array
    probability: float
    suspect: Suspect | None
    odd: int | None
    combinations: tuple[Combination, ...]
    is_linear: bool

    @property
    def is_contradicted(self) -> bool:
        """Whether what was seen hardly fits what is known."""
        return self.probability < UNLIKELY


def prior(knowledge: Knowledge) -> Belief:
    """Give what is believed before anything was seen."""
    return Belief(knowledge.names, np.zeros(len(knowledge.names)), knowledge.covariance)


def learn(prepared: PreparedBench, seen: Sequence[Seen] | None = None) -> Learnt:
    """Bring what was seen together with what is known.

    Parameters
    ----------
    prepared
        The bench. One whose numbers are all exact learns nothing.
    seen
        What was seen; what the bench keeps when left out.

    Raises
    ------
    GlowtraceError
        The line never comes where it is said to have been seen.
    """
    require_kind(prepared, PreparedBench)
    bench = prepared.bench
    if seen is None:
        seen = bench.doubts.seen if bench.doubts else ()
    before = prior(knowledge_of(bench))
    nothing = np.zeros(0)
    if not seen or not before.names:
        return Learnt(before, before, nothing, nothing, 1.0, None, None, (), True)
    effects = prepared.effects
    foretold, slopes = _foretold(prepared, effects, seen)
    values = np.array([value for each in seen for value in _values(each)])
    noise = np.diag([_noise(each) ** 2 for each in seen for _ in _values(each)])
    residuals = values - foretold
    linear = _updated(before, slopes, noise, residuals)
    after, steps = linear, 0
    sizes = np.sqrt(np.diag(before.covariance))
    while steps < _MOST_STEPS:
        there, at = _shifted(prepared, effects, seen, after.shift, foretold)
        again = _updated(before, at, noise, values - there + at @ after.shift)
        change = float(np.abs((again.shift - after.shift) / sizes).max())
        after, steps = again, steps + 1
        if change < _SETTLED:
            break
    spread = slopes @ before.covariance @ slopes.T + noise
    return Learnt(
        before,
        after,
        residuals,
        np.sqrt(np.diag(spread)),
        float(chi2.sf(residuals @ np.linalg.solve(spread, residuals), len(residuals))),
        *_explained(knowledge_of(bench), slopes, spread, residuals, seen),
        _combinations(before, after),
        float(np.abs((after.shift - linear.shift) / sizes).max()) < _STRAIGHT,
    )


def with_seen(bench: Bench, seen: Sequence[Seen], forget: int = 0) -> Bench:
    """Give the bench with more that was seen on it, after some of the last was taken back."""
    kept = bench.doubts or Doubts()
    before = kept.seen[: len(kept.seen) - forget]
    return bench.model_copy(update={"doubts": kept.model_copy(update={"seen": (*before, *seen)})})


def narrowed(belief: Belief, slopes: Array, noise: float) -> Belief:
    """Give what would be believed after one more observation that ends as foretold."""
    return _updated(belief, slopes[None], np.array([[noise**2]]), slopes[None] @ belief.shift)


def noise_at(uncertainty: float, x: float) -> float:
    """Give the standard uncertainty of a reading at x, with what the model leaves out."""
    return math.hypot(uncertainty, LEFT_OUT * x)


def _updated(before: Belief, slopes: Array, noise: Array, residuals: Array) -> Belief:
    """Give the linear update; ``residuals`` (o,) are those at the bench's own numbers."""
    gain_of = before.covariance @ slopes.T
    gain = np.linalg.solve(slopes @ gain_of + noise, gain_of.T).T
    shift = before.shift + gain @ (residuals - slopes @ before.shift)
    covariance = before.covariance - gain @ gain_of.T
    return Belief(before.names, shift, (covariance + covariance.T) / 2)


def _values(seen: Seen) -> tuple[float, ...]:
    return (seen.y, seen.z) if seen.what == "spot" else (seen.y,)


def _noise(seen: Seen) -> float:
    return noise_at(seen.uncertainty, seen.x if seen.what == "point" else abs(seen.y))


def _foretold(
    prepared: PreparedBench, effects: NumberEffects, seen: Sequence[Seen]
) -> tuple[Array, Array]:
    """Give what the bench's own numbers foretell (o,), and its slopes (o, n)."""
    values: list[float] = []
    rows: list[Array] = []
    for place, each in enumerate(seen):
        response = line_response(prepared, effects, each.settings)
        found = _rows(prepared, each, response)
        if found is None:
            raise GlowtraceError(_never_there(each, place))
        rows += found
        if each.what == "point":
            values.append(prepared.line_height(each.settings, each.x))
        elif each.what == "circle":
            values.append(prepared.line_turn(each.settings))
        else:
            values += _spot(response.position, prepared.bench.screen.x)  # type: ignore[union-attr]
    return np.array(values), np.array(rows)


def _shifted(
    prepared: PreparedBench,
    effects: NumberEffects,
    seen: Sequence[Seen],
    numbers: Array,
    foretold: Array,
) -> tuple[Array, Array]:
    """Do as `_foretold` with the numbers moved; in fields that are linear in them."""
    values: list[float] = []
    rows: list[Array] = []
    for each in seen:
        settings = each.settings
        pair = [
            shifted_path(prepared, effects, settings, by)
            for by in (numbers, np.zeros(len(numbers)))
        ]
        field = shifted_field(prepared, effects, settings, numbers)
        response = response_along(prepared, effects, settings, field, pair[0])
        found = _rows(prepared, each, response)
        there = [_seen_on(prepared, each, path) for path in pair]
        if found is None or not np.isfinite(there).all():
            raise GlowtraceError(_never_there(each, len(values)))
        lift = effects.moves("slack.grid_height")
        raised = numbers[lift] if lift is not None and each.what != "circle" else 0.0
        for n, (now, first) in enumerate(zip(*there, strict=True)):
            values.append(foretold[len(values)] + now - first + (raised if n == 0 else 0.0))
        rows += found
    return np.array(values), np.array(rows)


def _seen_on(prepared: PreparedBench, seen: Seen, path: Path) -> list[float]:
    if seen.what == "point":
        return [path.height_at(seen.x)]
    if seen.what == "circle":
        return [path.circle_height()]
    return _spot(path.position, prepared.bench.screen.x)  # type: ignore[union-attr]


def _rows(prepared: PreparedBench, seen: Seen, response: Response) -> list[Array] | None:
    """Give the slopes (n,) of each value seen; None where the line never comes there."""
    if seen.what == "circle":
        turn = response.at_turn()
        return None if turn is None else [turn]
    x = seen.x if seen.what == "point" else prepared.bench.screen.x  # type: ignore[union-attr]
    change = response.at_x(x)
    if change is None:
        return None
    return [change[:, 0]] if seen.what == "point" else [change[:, 0], change[:, 1]]


def _spot(position: Array, x: float) -> list[float]:
    return [float(np.interp(x, position[:, 0], position[:, axis])) for axis in (1, 2)]


def _never_there(seen: Seen, place: int) -> Problem:
    where = "a turning point" if seen.what == "circle" else f"x = {format_quantity(seen.x, 'mm')}"
    return Problem(
        f"doubts.seen[{place}]",
        where,
        "on this bench the line never comes there at these settings: check place and settings",
    )


def _explained(
    knowledge: Knowledge, slopes: Array, spread: Array, residuals: Array, seen: Sequence[Seen]
) -> tuple[Suspect | None, int | None]:
    """Find what would explain a contradiction: one number, or one reading."""
    count = len(residuals)
    if chi2.sf(residuals @ np.linalg.solve(spread, residuals), count) >= UNLIKELY:
        return None, None
    likely: list[Suspect] = []
    for n, name in enumerate(knowledge.names):
        variance = knowledge.covariance[n, n]
        # One unit of this number, with what is known together with it.
        change = slopes @ knowledge.covariance[n] / variance
        rest = spread - variance * np.outer(change, change)
        solved = np.linalg.solve(rest, np.stack([change, residuals], axis=1))
        weight = float(change @ solved[:, 0])
        if weight <= 0.0:
            continue
        by = float(change @ solved[:, 1]) / weight
        left = float(residuals @ solved[:, 1]) - by**2 * weight
        is_far = abs(by) > _FARTHEST * math.sqrt(variance)
        if not is_far and (count == 1 or chi2.sf(left, count - 1) >= UNLIKELY):
            value = float(knowledge.means[n]) + by
            likely.append(Suspect(name, value, by / math.sqrt(variance)))
    # Of those that would explain it, the one that need be least far off.
    suspect = min(likely, key=lambda each: abs(each.away), default=None)
    return suspect, _odd(spread, residuals, seen)


def _odd(spread: Array, residuals: Array, seen: Sequence[Seen]) -> int | None:
    """Find the one reading without which the rest agrees."""
    owners = np.array([place for place, each in enumerate(seen) for _ in _values(each)])
    chances = []
    for place in range(len(seen)):
        kept = np.flatnonzero(owners != place)
        if len(kept) == 0:
            return None
        part = residuals[kept] @ np.linalg.solve(spread[np.ix_(kept, kept)], residuals[kept])
        chances.append(float(chi2.sf(part, len(kept))))
    likely = int(np.argmax(chances))
    return likely if len(seen) > 2 and chances[likely] >= UNLIKELY else None


def _combinations(before: Belief, after: Belief) -> tuple[Combination, ...]:
    """Find the combinations of numbers, in their former uncertainties, that are better known."""
    sizes = np.sqrt(np.diag(before.covariance))
    former, now = (each.covariance / np.outer(sizes, sizes) for each in (before, after))
    root = np.linalg.cholesky(former + _ROUNDING * np.eye(len(sizes)))
    half = np.linalg.solve(root, now)
    left, directions = np.linalg.eigh(np.linalg.solve(root, half.T))
    found = []
    for n in np.flatnonzero(np.sqrt(np.maximum(left, 0.0)) < _DETERMINED):
        weights = np.linalg.solve(root.T, directions[:, n])
        weights /= np.linalg.norm(weights)
        weights *= np.sign(weights[int(np.argmax(np.abs(weights)))])
        heavy = np.flatnonzero(np.abs(weights) > _HEAVY)
        heavy = heavy[np.argsort(-np.abs(weights[heavy]))]
        named = tuple((before.names[i], float(weights[i])) for i in heavy)
        found.append(Combination(named, math.sqrt(max(float(left[n]), 0.0))))
    return tuple(found)
