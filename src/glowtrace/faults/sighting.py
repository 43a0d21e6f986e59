"""What the user says is seen, and how likely that is when a picture is there."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.wrong_fields import unknown_name
from glowtrace.errors import BenchError, Problem
from glowtrace.faults.drawn_lines import (
    OFF,
    line_log_likelihood,
    line_log_likelihood_anywhere,
)
from glowtrace.faults.looks import Look
from glowtrace.faults.seen import statement_key
from glowtrace.faults.statement import LEFT_OUT, Statement
from glowtrace.faults.variations import AS_SET

Array = NDArray[np.float64]
Points = tuple[tuple[float, float], ...]
Screen = tuple[float, float, float, float]

SKETCHED, PHOTOGRAPHED = 2.5e-3, 0.8e-3
"""Standard deviation in m of a line that is dragged on the screen, or read from a photograph."""
_MODEL = 1e-3
"""Standard deviation in m of what the model itself may be off by."""
_POINTS = 9
"""Points of a line that are looked at, at most: the hundreds of a photograph say no more."""
_OUTLIERS = 0.05
"""Part of the spots that are drawn somewhere else, or of another size."""
_RADIUS_OFF = 0.35
"""Standard deviation of the logarithm of a sketched spot's radius."""
SMALLEST_RADIUS = 0.7e-3
"""Radius in m below which a spot is drawn no smaller."""
_RADII = 3.0
"""Range of the logarithm of a spot's radius."""
_OTHERWISE = 0.1
"""Chance of any statement when something is wrong that is not in the list."""


@dataclass(frozen=True)
class Sighting:
    """What is seen.

    Attributes
    ----------
    seen
        Statements that hold, by their keys; see `glowtrace.faults.seen.Seen`.
    not_seen
        Statements that do not hold, by their keys.
    line
        Points (u, v) in m on the screen's grid along the middle of the line, or round the edge of
        the spot (one point: its middle); empty when none is drawn. Parts may be left out.
    line_error
        Standard deviation of these points across the line, m.
    other_lines
        The same for other states of the knobs, where they were tried: the key of the variation
        ("coil current", "plate voltage") and the points.
    """

    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()
    line: Points = ()
    line_error: float = SKETCHED
    other_lines: tuple[tuple[str, Points], ...] = ()

    def __post_init__(self) -> None:
        """Take former names of statements as their keys."""
        for name in ("seen", "not_seen"):
            keys = tuple(dict.fromkeys(map(statement_key, getattr(self, name))))
            object.__setattr__(self, name, keys)

    @property
    def lines(self) -> tuple[tuple[str, Points], ...]:
        """All lines that are drawn, with the key of their state of the knobs."""
        return (*(((AS_SET, self.line),) if self.line else ()), *self.other_lines)

    @property
    def says_nothing(self) -> bool:
        """Whether nothing is told at all."""
        return not (self.seen or self.not_seen or self.lines)


def require_known(
    sighting: Sighting, statements: Sequence[Statement], states: Collection[str]
) -> None:
    """Refuse statements and states that this bench has not, and points that are no numbers.

    Raises
    ------
    BenchError
        With one Problem for each.
    """
    known = [one.key for one in statements]
    problems = [
        unknown_name(name, words, known)
        for name, given in (("seen", sighting.seen), ("not_seen", sighting.not_seen))
        for words in given
        if words not in known
    ]
    problems += contradictions(sighting)
    problems += [
        unknown_name("other_lines", key, sorted(states))
        for key, _ in sighting.other_lines
        if key not in states
    ]
    for _, points in sighting.lines:
        if not np.isfinite(np.array(points, dtype=float)).all():
            problems.append(Problem("line", "a point that is no number", "give u and v in m"))
    if not sighting.line_error > 0.0:
        given = f"{sighting.line_error} m"
        problems.append(Problem("line_error", given, "give a length above 0 m"))
    if problems:
        raise BenchError("what is seen", problems)


def contradictions(sighting: Sighting) -> list[Problem]:
    """Give a Problem for each statement that is said to hold and not to."""
    return [
        Problem("not_seen", f'"{key}"', "it is among those that are seen: choose one of the two")
        for key in sorted(set(sighting.seen) & set(sighting.not_seen))
    ]


def log_likelihood(
    sighting: Sighting,
    statements: Sequence[Statement],
    looks: Mapping[str, Look],
    usual: Mapping[str, Look],
    screen: Screen,
    is_spot: bool,
    between: float = 0.0,
) -> Array:
    """Give the logarithm (n,) of the likelihood of a sighting for each draw of a fault.

    Parameters
    ----------
    sighting
        What is seen.
    statements
        Those of the bench.
    looks, usual
        Of the fault, and of the bench with nothing wrong.
    screen
        (u0, u1, v0, v1) in m.
    is_spot
        Whether the picture is a spot on an end face.
    between
        See `line_log_likelihood`.
    """
    total = np.zeros(len(looks[AS_SET].lit))
    for one in statements:
        if one.key in sighting.seen:
            total += np.log(one.chance(looks, usual))
        elif one.key in sighting.not_seen:
            total += np.log(1.0 - one.chance(looks, usual))
    for one in _passed_over(sighting, statements):
        total += np.log(one.silence(looks, usual))
    for key, drawn in sighting.lines:
        points, look = thinned(np.array(drawn), is_spot), looks[key]
        if is_spot:
            total += _spot_likelihood(points, sighting.line_error, look, screen)
        else:
            total += line_log_likelihood(
                points, sighting.line_error, look, screen[2:], usual[key], between
            )
    return total


def _passed_over(sighting: Sighting, statements: Sequence[Statement]) -> tuple[Statement, ...]:
    """Give the statements of which nothing is said by somebody who says anything."""
    if not sighting.seen:
        return ()
    said = {*sighting.seen, *sighting.not_seen}
    said |= {key for one in statements if one.key in sighting.seen for key in one.includes}
    return tuple(one for one in statements if one.key not in said)


def log_likelihood_otherwise(
    sighting: Sighting, statements: Sequence[Statement], screen: Screen, is_spot: bool
) -> float:
    """Give the same for something that is not in the list: any statement, a line anywhere."""
    total = len(sighting.seen) * np.log(_OTHERWISE)
    total += len(sighting.not_seen) * np.log(1.0 - _OTHERWISE)
    silent = [one for one in _passed_over(sighting, statements) if one.is_seen_at_once]
    total += len(silent) * np.log(1.0 - (1.0 - LEFT_OUT) * _OTHERWISE)
    u0, u1, v0, v1 = screen
    for _, points in sighting.lines:
        if is_spot:
            total -= np.log((u1 - u0) * (v1 - v0))
            total -= np.log(_RADII) if len(points) > 2 else 0.0
        else:
            every = thinned(np.array(points), is_spot)
            total += line_log_likelihood_anywhere(every, sighting.line_error, (v0, v1))
    return float(total)


def thinned(points: Array, is_spot: bool) -> Array:
    """Give the points of a line, no more than a hand would draw, evenly out of all of them."""
    if is_spot or len(points) <= _POINTS:
        return points
    return np.asarray(points[np.linspace(0, len(points) - 1, _POINTS).round().astype(int)])


def _spot_likelihood(points: Array, line_error: float, look: Look, screen: Screen) -> Array:
    u0, u1, v0, v1 = screen
    error = math.hypot(OFF * line_error, _MODEL)  # the hand is off as a whole, as with a line
    middle = points.mean(axis=0)
    away = np.linalg.norm(look.centre - middle, axis=1)
    near = np.exp(-0.5 * (away / error) ** 2) / (2.0 * np.pi * error**2)
    everywhere = _OUTLIERS / ((u1 - u0) * (v1 - v0))
    total = np.log(np.nan_to_num((1.0 - _OUTLIERS) * near) + everywhere)
    if len(points) > 2:
        drawn = np.linalg.norm(points - middle, axis=1).mean()
        ratio = np.log(np.maximum(look.width, SMALLEST_RADIUS) / max(float(drawn), SMALLEST_RADIUS))
        fits = np.exp(-0.5 * (ratio / _RADIUS_OFF) ** 2) / (np.sqrt(2.0 * np.pi) * _RADIUS_OFF)
        total += np.log((1.0 - _OUTLIERS) * np.nan_to_num(fits) + _OUTLIERS / _RADII)
    return np.asarray(total)
