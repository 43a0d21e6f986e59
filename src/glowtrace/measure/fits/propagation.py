"""Propagation of uncertainty: linear after the GUM, and of whole distributions by Monte Carlo.

References
----------
JCGM 100:2008, "Evaluation of measurement data - Guide to the expression of uncertainty in
measurement" (GUM). JCGM 101:2008, its Supplement 1 on the propagation of distributions.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from glowtrace.errors import GlowtraceError, Problem

Array = NDArray[np.float64]
Kind = Literal["A", "B"]
"""A: evaluated from repeated readings. B: from anything else that is known."""
Shape = Literal["normal", "rectangular", "triangular", "arcsine", "student"]
"""Distribution of what a quantity may be; "student" is scaled by its uncertainty as GUM type A."""

_STEP = 1e-3
"""Step of a difference quotient in standard uncertainties."""


@dataclass(frozen=True)
class Input:
    """A quantity that a result is computed from."""

    name: str
    value: float
    uncertainty: float
    """Standard uncertainty, in the unit of the value."""
    unit: str = "1"
    kind: Kind = "B"
    distribution: Shape = "normal"
    degrees_of_freedom: float = math.inf
    """How well the uncertainty itself is known."""

    def __post_init__(self) -> None:
        if not 0 <= self.uncertainty < math.inf:
            given = f"{self.uncertainty:g} {self.unit}"
            raise GlowtraceError(Problem(f"uncertainty of {self.name}", given, "give 0 or more"))
        if not self.degrees_of_freedom > 0:
            given = f"{self.degrees_of_freedom:g}"
            allowed = "give more than 0"
            raise GlowtraceError(Problem(f"degrees of freedom of {self.name}", given, allowed))

    def draw(self, trials: int, generator: np.random.Generator) -> Array:
        """Draw values (trials,); a finite number of degrees of freedom makes "normal" Student's."""
        return self.value + self.uncertainty * self._standard(trials, generator)

    def _standard(self, trials: int, generator: np.random.Generator) -> Array:
        shape = self.distribution
        if shape == "rectangular":
            return generator.uniform(-math.sqrt(3), math.sqrt(3), trials)
        if shape == "triangular":
            return generator.triangular(-math.sqrt(6), 0.0, math.sqrt(6), trials)
        if shape == "arcsine":
            swing: Array = math.sqrt(2) * np.sin(2 * np.pi * generator.random(trials))
            return swing
        if shape == "student" and math.isfinite(self.degrees_of_freedom):
            return generator.standard_t(self.degrees_of_freedom, trials)
        return generator.normal(size=trials)


def linear_propagation(
    function: Callable[[Array], ArrayLike], values: ArrayLike, covariance: ArrayLike
) -> tuple[Array, Array]:
    """Propagate a covariance through a function of several quantities to several results.

    Parameters
    ----------
    function
        From quantities (n,) to results (m,) or one number.
    values, covariance
        (n,) and (n, n).

    Returns
    -------
    tuple
        Results (m,) and their covariance (m, m), GUM equations 13 and H.9.
    """
    at = np.asarray(values, dtype=float)
    matrix = np.asarray(covariance, dtype=float)
    if matrix.shape != (len(at), len(at)):
        given = f"shape {matrix.shape} for {len(at)} quantities"
        raise GlowtraceError(Problem("covariance", given, f"give ({len(at)}, {len(at)})"))
    results = np.atleast_1d(np.asarray(function(at), dtype=float))
    slopes = np.zeros((len(results), len(at)))
    for n, size in enumerate(np.sqrt(np.diag(matrix))):
        if size > 0:
            step = np.zeros_like(at)
            step[n] = _STEP * size
            change = np.asarray(function(at + step)) - np.asarray(function(at - step))
            slopes[:, n] = np.atleast_1d(change) / (2 * step[n])
    return results, slopes @ matrix @ slopes.T


def sensitivities(function: Callable[..., Any], inputs: Sequence[Input]) -> Array:
    """Slopes (n,) of a function of named quantities at their values; 0 for exact ones."""
    values = {each.name: each.value for each in inputs}
    slopes = np.zeros(len(inputs))
    for n, each in enumerate(inputs):
        if each.uncertainty > 0:
            step = _STEP * each.uncertainty
            above = float(function(**(values | {each.name: each.value + step})))
            below = float(function(**(values | {each.name: each.value - step})))
            slopes[n] = (above - below) / (2 * step)
    return slopes


@dataclass(frozen=True, eq=False)
class Simulation:
    """Distribution of a result by Monte Carlo."""

    values: Array
    """(t,) sorted."""
    level: float

    @property
    def mean(self) -> float:
        """Mean of the result."""
        return float(self.values.mean())

    @property
    def uncertainty(self) -> float:
        """Standard deviation of the result."""
        return float(self.values.std(ddof=1))

    @property
    def symmetric(self) -> tuple[float, float]:
        """Interval that leaves out equal chances below and above."""
        low, high = np.quantile(self.values, [(1 - self.level) / 2, (1 + self.level) / 2])
        return float(low), float(high)

    @property
    def shortest(self) -> tuple[float, float]:
        """Shortest interval that covers the level."""
        inside = min(max(int(self.level * len(self.values) + 0.5), 1), len(self.values) - 1)
        widths = self.values[inside:] - self.values[:-inside]
        start = int(np.argmin(widths))
        return float(self.values[start]), float(self.values[start + inside])


def simulate(
    function: Callable[..., Any],
    inputs: Sequence[Input],
    *,
    correlation: ArrayLike | None = None,
    trials: int = 400_000,
    seed: int = 0,
    level: float = 0.95,
) -> Simulation:
    """Propagate whole distributions through a function of named quantities.

    Parameters
    ----------
    function
        Takes every input by its name, as arrays (t,), and gives the results (t,).
    inputs
        The quantities.
    correlation
        (n, n) of the inputs; those correlated are drawn jointly normal.
    trials, seed
        Number of draws, 1000 or more, and where the random numbers begin.
    level
        Coverage probability of the intervals.

    Raises
    ------
    GlowtraceError
        If an input that is not normal is correlated, the correlation matrix is none, there are too
        few trials, or the function does not give finite numbers.
    """
    if trials < 1000:
        raise GlowtraceError(Problem("trials", str(trials), "ask for 1000 or more"))
    generator = np.random.default_rng(seed)
    drawn = {each.name: each.draw(trials, generator) for each in inputs}
    if correlation is not None:
        drawn |= _drawn_jointly(inputs, np.asarray(correlation, dtype=float), trials, generator)
    results = np.asarray(function(**drawn), dtype=float)
    if results.shape != (trials,) or not np.all(np.isfinite(results)):
        allowed = f"it has to give {trials} finite numbers for arrays of {trials} values"
        raise GlowtraceError(Problem("function", f"shape {results.shape}", allowed))
    return Simulation(np.sort(results), level)


def _drawn_jointly(
    inputs: Sequence[Input], correlation: Array, trials: int, generator: np.random.Generator
) -> dict[str, Array]:
    """Draw those inputs again that are correlated with others."""
    matrix = require_correlation(inputs, correlation)
    tied = [n for n in range(len(inputs)) if np.any(np.delete(matrix[n], n) != 0)]
    for n in tied:
        if inputs[n].distribution != "normal":
            given = f'"{inputs[n].distribution}" for the correlated {inputs[n].name}'
            raise GlowtraceError(Problem("distribution", given, 'only "normal" can be'))
    values, vectors = np.linalg.eigh(matrix[np.ix_(tied, tied)])
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    draws = root @ generator.normal(size=(len(tied), trials))
    return {
        inputs[n].name: inputs[n].value + inputs[n].uncertainty * draw
        for n, draw in zip(tied, draws, strict=True)
    }


def require_correlation(inputs: Sequence[Input], correlation: ArrayLike | None) -> Array:
    """Give the correlation matrix (n, n) of the inputs, or raise a GlowtraceError if it is none."""
    count = len(inputs)
    matrix = np.eye(count) if correlation is None else np.asarray(correlation, dtype=float)
    is_sound = (
        matrix.shape == (count, count)
        and np.allclose(matrix, matrix.T)
        and np.allclose(np.diag(matrix), 1.0)
        and float(np.linalg.eigvalsh(matrix)[0]) > -1e-9
    )
    if not is_sound:
        allowed = f"give a symmetric ({count}, {count}) with 1 on the diagonal and no negative part"
        raise GlowtraceError(Problem("correlation", f"shape {matrix.shape}", allowed))
    return matrix
