"""Parameters of a fit: what is wanted, and what is known beforehand with an uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.fits.propagation import Kind

Distribution = Literal["normal", "rectangular"]


@dataclass(frozen=True)
class Parameter:
    """One number of the model: free, known beforehand within a spread, or exact."""

    name: str
    title: str
    unit: str
    """SI unit; "1" for plain numbers."""
    value: float
    """What is known beforehand; of a free parameter only where the search begins."""
    spread: float = 0.0
    """Standard uncertainty of `value` beforehand; 0 is exact, infinite is free."""
    distribution: Distribution = "normal"
    """Of what is known beforehand; a fit takes it for normal with the same spread."""
    low: float = -math.inf
    high: float = math.inf
    """Limits of what is possible at all."""
    typical: float = 0.0
    """Size of a small change, for the search of a free parameter; 0 is 0.0003 of its value
    wherever the search has got to."""
    part_of: str = ""
    """What this is one of many parts of, if it means little by itself: they are told together."""
    kind: Kind = "B"
    """Of what is known beforehand: A is the scatter of repeated readings, B anything else."""
    degrees_of_freedom: float = math.inf
    """Behind `spread`."""

    def __post_init__(self) -> None:
        if not (self.low <= self.value <= self.high and math.isfinite(self.value)):
            allowed = f"give {self.low:g} to {self.high:g} {self.unit}"
            raise GlowtraceError(Problem(self.name, f"{self.value:g} {self.unit}", allowed))
        if not self.spread >= 0:
            allowed = "give 0 or more; 0 means exact, infinite means free"
            raise GlowtraceError(Problem(f"spread of {self.name}", str(self.spread), allowed))

    @property
    def is_free(self) -> bool:
        """Whether nothing is known about it beforehand."""
        return math.isinf(self.spread)

    @property
    def is_exact(self) -> bool:
        """Whether it stays as it is."""
        return self.spread == 0.0

    @property
    def scale(self) -> float:
        """Size of a typical change: the spread, or `typical` of a free parameter."""
        return self.scale_at(self.value)

    def scale_at(self, value: float) -> float:
        """Give the size of a typical change where the search has got to a value."""
        return self.spread if not self.is_free else (self.typical or 3e-4 * abs(value) or 3e-4)

    def draw(self, generator: np.random.Generator) -> float:
        """Draw how far the truth may lie from what is known beforehand, in spreads."""
        if self.distribution == "rectangular":
            return float(generator.uniform(-math.sqrt(3.0), math.sqrt(3.0)))
        return float(generator.normal())


def index_of(parameters: Sequence[Parameter], name: str) -> int:
    """Give the position of a parameter.

    Raises
    ------
    GlowtraceError
        If there is none of this name; the text lists those that there are.
    """
    names = [parameter.name for parameter in parameters]
    if name not in names:
        allowed = f"known parameters are {', '.join(names)}"
        raise GlowtraceError(Problem("parameter", f'"{name}"', allowed))
    return names.index(name)


def with_changes(
    parameters: Sequence[Parameter], name: str, *, value: float, spread: float
) -> tuple[Parameter, ...]:
    """Give the parameters with one of them known otherwise."""
    position = index_of(parameters, name)
    changed = replace(parameters[position], value=value, spread=spread)
    return (*parameters[:position], changed, *parameters[position + 1 :])
