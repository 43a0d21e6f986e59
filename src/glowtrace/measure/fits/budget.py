"""The uncertainty budget after the GUM: what contributes how much, and what comes of it.

References
----------
JCGM 100:2008 (GUM), sections 4 to 7 and annexes G and H. JCGM 101:2008, section 8 (when the linear
propagation agrees with the Monte Carlo method).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.fits.propagation import (
    Input,
    Kind,
    Simulation,
    require_correlation,
    sensitivities,
    simulate,
)


@dataclass(frozen=True)
class Contribution:
    """One line of a budget."""

    name: str
    value: float
    """NaN where many readings stand behind the line."""
    uncertainty: float
    """Standard uncertainty of the quantity; of many readings their root mean square."""
    unit: str
    kind: Kind
    distribution: str
    degrees_of_freedom: float
    sensitivity: float
    """Change of the result with the quantity; of many readings taken together, without a sign."""
    contribution: float
    """Standard uncertainty of the result that comes from this line, 0 or more."""
    share: float
    """Part of the variance of the result; with correlated inputs the shares need not add to 1."""

    @property
    def is_gain(self) -> bool:
        """Whether it is a relative error, such as a meter's gain: a plain number known to be 0."""
        return self.unit == "1" and self.value == 0.0


@dataclass(frozen=True)
class Budget:
    """An uncertainty budget."""

    name: str
    unit: str
    value: float
    uncertainty: float
    """Combined standard uncertainty."""
    lines: tuple[Contribution, ...]
    level: float

    @property
    def degrees_of_freedom(self) -> float:
        """Effective degrees of freedom after Welch-Satterthwaite (GUM G.4.1)."""
        below = math.fsum(
            each.contribution**4 / each.degrees_of_freedom
            for each in self.lines
            if math.isfinite(each.degrees_of_freedom)
        )
        return self.uncertainty**4 / below if below > 0 else math.inf

    @property
    def coverage_factor(self) -> float:
        """Student's factor for the level, with the degrees of freedom rounded down (GUM G.4.2)."""
        return coverage_factor(self.degrees_of_freedom, self.level)

    @property
    def expanded(self) -> float:
        """Expanded uncertainty: coverage factor times combined standard uncertainty."""
        return self.coverage_factor * self.uncertainty

    @property
    def interval(self) -> tuple[float, float]:
        """Value less, and plus, the expanded uncertainty."""
        return self.value - self.expanded, self.value + self.expanded


def coverage_factor(degrees_of_freedom: float, level: float = 0.95) -> float:
    """Give the factor for a coverage probability from Student's distribution.

    Raises
    ------
    GlowtraceError
        If the level is not between 0 and 1, or there is less than one degree of freedom.
    """
    if not 0 < level < 1:
        raise GlowtraceError(Problem("level", str(level), "give more than 0 and less than 1"))
    half = (1 + level) / 2
    if math.isinf(degrees_of_freedom):
        return float(special.ndtri(half))
    if not degrees_of_freedom >= 1:
        given = f"{degrees_of_freedom:g}"
        raise GlowtraceError(Problem("degrees of freedom", given, hint="take more readings"))
    return float(special.stdtrit(math.floor(degrees_of_freedom), half))


def budget(
    function: Callable[..., Any],
    inputs: Sequence[Input],
    *,
    name: str = "result",
    unit: str = "1",
    correlation: ArrayLike | None = None,
    level: float = 0.95,
) -> Budget:
    """Make the budget of a result that is a function of named quantities.

    Parameters
    ----------
    function
        Takes every input by its name and gives the result.
    inputs
        The quantities with what is known of them.
    name, unit
        Of the result.
    correlation
        Correlation coefficients (n, n) of the inputs; independent when left out.
    level
        Coverage probability of the expanded uncertainty.

    Raises
    ------
    GlowtraceError
        If two inputs share a name or the correlation matrix is none.
    """
    names = [each.name for each in inputs]
    if len(set(names)) != len(names):
        raise GlowtraceError(Problem("inputs", "one name twice", "give each its own"))
    matrix = require_correlation(inputs, correlation)
    slopes = sensitivities(function, inputs)
    parts = slopes * np.array([each.uncertainty for each in inputs])
    variance = float(parts @ matrix @ parts)
    lines = tuple(
        Contribution(
            name=each.name,
            value=each.value,
            uncertainty=each.uncertainty,
            unit=each.unit,
            kind=each.kind,
            distribution=each.distribution,
            degrees_of_freedom=each.degrees_of_freedom,
            sensitivity=float(slope),
            contribution=abs(float(part)),
            share=float(part) ** 2 / variance if variance > 0 else 0.0,
        )
        for each, slope, part in zip(inputs, slopes, parts, strict=True)
    )
    value = float(function(**{each.name: each.value for each in inputs}))
    return Budget(name, unit, value, math.sqrt(max(variance, 0.0)), lines, level)


@dataclass(frozen=True, eq=False)
class Comparison:
    """The linear propagation beside the Monte Carlo method."""

    linear: Budget
    simulated: Simulation
    tolerance: float
    """Half a unit of the second figure of the standard uncertainty (JCGM 101, 7.9.2)."""
    warning: str
    """Why the linear result cannot be relied upon; empty where both agree."""


def compare_with_simulation(
    function: Callable[..., Any],
    inputs: Sequence[Input],
    *,
    name: str = "result",
    unit: str = "1",
    correlation: ArrayLike | None = None,
    level: float = 0.95,
    trials: int = 400_000,
    seed: int = 0,
) -> Comparison:
    """Make the budget and check it by Monte Carlo; parameters as for `budget` and `simulate`."""
    linear = budget(function, inputs, name=name, unit=unit, correlation=correlation, level=level)
    found = simulate(
        function, inputs, correlation=correlation, trials=trials, seed=seed, level=level
    )
    return Comparison(
        linear, found, numerical_tolerance(found.uncertainty), _warning(linear, found)
    )


def numerical_tolerance(uncertainty: float) -> float:
    """Half a unit of the second significant figure of a standard uncertainty."""
    if not uncertainty > 0:
        return 0.0
    return 0.5 * 10.0 ** (math.floor(math.log10(uncertainty)) - 1)


def _warning(linear: Budget, found: Simulation) -> str:
    tolerance = numerical_tolerance(found.uncertainty)
    # By chance alone an end of the simulated interval is off by about this much.
    end = special.ndtri((1 + linear.level) / 2)
    density = math.exp(-(end**2) / 2) / math.sqrt(2 * math.pi)
    tail = (1 - linear.level) / 2
    noise = 3 * math.sqrt(tail * (1 - tail) / len(found.values)) / density * found.uncertainty
    pairs = zip(linear.interval, found.symmetric, strict=True)
    off = max(abs(a - b) for a, b in pairs)
    if off <= tolerance + noise:
        return ""
    low, high = found.symmetric
    return (
        f"the linear interval {linear.interval[0]:.6g} to {linear.interval[1]:.6g} {linear.unit} "
        f"differs from the simulated one, {low:.6g} to {high:.6g}: rely on the simulated one"
    )
