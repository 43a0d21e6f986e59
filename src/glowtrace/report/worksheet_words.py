"""Numbers as a worksheet has them: powers of ten, three figures, a blank before the unit."""

from __future__ import annotations

from decimal import Decimal

from glowtrace.report.worksheet_content import Result
from glowtrace.units import format_quantity

PARTS = {2: "half", 3: "a third", 4: "a quarter", 9: "a ninth"}
"""One part of so many, in words."""
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_PREFIXED = ("V", "A", "T", "V/m", "m", "s")


def power_of_ten(value: float, digits: int = 3) -> str:
    """Write a number as a × 10ⁿ; between 0.1 and 1000 without the power.

    Examples
    --------
    >>> power_of_ten(3.25e7), power_of_ten(42.0), power_of_ten(-1.6e-19, 4)
    ('3.25 × 10⁷', '42.0', '−1.600 × 10⁻¹⁹')
    """
    figure, power = f"{value:.{digits - 1}e}".split("e")
    if value == 0.0 or -1 <= int(power) < 3:
        figure = plain(value, digits)
        return figure.replace("-", "−")
    return f"{figure} × 10{str(int(power)).translate(_RAISED)}".replace("-", "−")


def scientific(value: float, unit: str, digits: int = 2) -> str:
    """Write a quantity as a × 10ⁿ with 1 ≤ a < 10, whatever its size.

    Examples
    --------
    >>> scientific(3200.0, "V"), scientific(0.14, "A")
    ('3.2 × 10³ V', '1.4 × 10⁻¹ A')
    """
    figure, power = f"{value:.{digits - 1}e}".split("e")
    return f"{figure} × 10{str(int(power)).translate(_RAISED)} {unit}".replace("-", "−")


def plain(value: float, digits: int = 3) -> str:
    """Write a number with so many figures and without a power of ten.

    Examples
    --------
    >>> plain(0.05236), plain(3200.0, 2), plain(1.0, 1)
    ('0.0524', '3200', '1')
    """
    if value == 0.0:
        return "0"
    rounded = Decimal(f"{value:.{digits - 1}e}")
    return f"{rounded:.{max(0, digits - 1 - rounded.adjusted())}f}"


def quantity(value: float, unit: str, digits: int = 3) -> str:
    """Write a quantity: with a prefix where the unit usually has one, else with a power of ten.

    Examples
    --------
    >>> quantity(3200.0, "V"), quantity(3.25e7, "m/s"), quantity(0.0087, "m")
    ('3.20 kV', '3.25 × 10⁷ m/s', '8.70 mm')
    """
    if unit in _PREFIXED:
        shown = "mm" if unit == "m" and abs(value) < 1.0 else unit
        return format_quantity(value, shown, digits).replace("-", "−")
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
