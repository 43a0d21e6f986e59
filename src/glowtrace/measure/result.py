"""A result as it is written down, and how it compares with the accepted value."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy import constants as _codata

from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.fits.budget import Budget
from glowtrace.units import format_measurement

_QUOTIENT = _codata.physical_constants["electron charge to mass quotient"]
ACCEPTED_UNCERTAINTY = float(_QUOTIENT[2])
"""Standard uncertainty in C/kg of e/m in scipy's CODATA table."""


@dataclass(frozen=True)
class Result:
    """A measured value with its standard uncertainty, a coverage factor, and a reference."""

    name: str
    unit: str
    value: float
    uncertainty: float
    coverage_factor: float
    level: float
    reference: float
    reference_uncertainty: float

    @property
    def text(self) -> str:
        """Value and standard uncertainty, "1.759(21)e+11 C/kg"."""
        return format_measurement(self.value, self.uncertainty, self.unit)

    @property
    def expanded(self) -> float:
        """Expanded uncertainty in the unit of the value."""
        return self.coverage_factor * self.uncertainty

    @property
    def zeta_score(self) -> float:
        """Distance from the reference in combined standard uncertainties (ISO 13528)."""
        both = math.hypot(self.uncertainty, self.reference_uncertainty)
        return (self.value - self.reference) / both

    @property
    def e_n(self) -> float:
        """Distance from the reference in combined expanded uncertainties (ISO 13528).

        The reference is expanded with the same factor.
        """
        return self.zeta_score / self.coverage_factor

    @property
    def relative_deviation(self) -> float:
        """Value over reference, less 1."""
        return self.value / self.reference - 1.0

    @property
    def agrees(self) -> bool:
        """Whether it lies within the expanded uncertainties of both from the reference."""
        return abs(self.e_n) <= 1


def measured_specific_charge(budget: Budget) -> Result:
    """Give e/m from a budget, compared with CODATA.

    Raises
    ------
    GlowtraceError
        If the budget is not in C/kg, or states no uncertainty.
    """
    if budget.unit != "C/kg":
        raise GlowtraceError(Problem("budget", f"one in {budget.unit}", "give one in C/kg"))
    if not budget.uncertainty > 0:
        raise GlowtraceError(Problem("uncertainty", "none", hint="state instruments or scatter"))
    return Result(
        name="e/m",
        unit="C/kg",
        value=budget.value,
        uncertainty=budget.uncertainty,
        coverage_factor=budget.coverage_factor,
        level=budget.level,
        reference=SPECIFIC_CHARGE,
        reference_uncertainty=ACCEPTED_UNCERTAINTY,
    )
