"""Numbers as a worksheet has them: powers of ten, three figures, a blank before the unit."""

from __future__ import annotations

from glowtrace.report.worksheets.content import Result
from glowtrace.units import format_quantity, scientific, significant

PARTS = {2: "half", 3: "a third", 4: "a quarter", 9: "a ninth"}
"""One part of so many, in words."""
_PREFIXED = ("V", "A", "T", "V/m", "m", "s")


def power_of_ten(value: float, digits: int = 3) -> str:
    """Write a number as a × 10ⁿ; between 0.1 and 1000 without the power.

    Examples
    --------
    >>> power_of_ten(3.25e7), power_of_ten(42.0), power_of_ten(-1.6e-19, 4)
    ('3.25 × 10⁷', '42.0', '−1.600 × 10⁻¹⁹')
    """
    is_handy = value == 0.0 or 0.1 <= float(f"{abs(value):.{digits - 1}e}") < 1000.0
    return significant(value, digits) if is_handy else scientific(value, digits=digits)


def quantity(value: float, unit: str, digits: int = 3) -> str:
    """Write a quantity: with a prefix where the unit usually has one, else with a power of ten.

    Examples
    --------
    >>> quantity(3200.0, "V"), quantity(3.25e7, "m/s"), quantity(0.0087, "m")
    ('3.20 kV', '3.25 × 10⁷ m/s', '8.70 mm')
    """
    if unit in _PREFIXED:
        shown = "mm" if unit == "m" and abs(value) < 1.0 else unit
        return format_quantity(value, shown, digits, style="typeset")
    return f"{power_of_ten(value, digits)} {unit if unit != '1' else ''}".strip()


def printed(value: float, digits: int = 3) -> float:
    """Give a value as it will be printed: what a learner can work with.

    Examples
    --------
    >>> printed(0.0312994), printed(236.67)
    (0.0313, 237.0)
    """
    return float(f"{value:.{digits - 1}e}")


def result(name: str, value: float, unit: str, digits: int = 3) -> Result:
    """Give a number of an answer, written with so many figures."""
    return Result(name, f"{name} = {quantity(value, unit, digits)}", value, unit)


def differs(school: float, real: float, least: float = 0.001) -> str:
    """Say how much a second value is above or below a first: "0.4 % less"; empty where it is not.

    Examples
    --------
    >>> differs(100.0, 97.3), differs(100.0, 100.01), differs(2.0, 3.0)
    ('2.7 % less', '', '50 % more')
    """
    change = real / school - 1.0
    if abs(change) < least:
        return ""
    return f"{100 * abs(change):.2g} % {'more' if change > 0 else 'less'}"
