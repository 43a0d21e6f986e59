"""Results in large letters: numbers with powers of ten as people write them."""

from __future__ import annotations

import math
import re

from glowtrace.units import DIMENSIONS, fixed, format_measurement, format_quantity


def power_html(text: str) -> str:
    """Write "1.759(21)e+11 C/kg" with a power of ten, in HTML.

    Examples
    --------
    >>> power_html("1.759(21)e+11 C/kg")
    '1.759(21) × 10<sup>11</sup> C/kg'
    """

    def power(match: re.Match[str]) -> str:
        return f" × 10<sup>{int(match[1])}</sup>".replace("-", "−")

    return re.sub(r"(?<=[0-9)])e([+-]?[0-9]+)", power, text)


def measured_text(value: float, uncertainty: float, unit: str) -> str:
    """Write a value with its standard uncertainty and unit, also in units without prefixes."""
    if unit in DIMENSIONS or unit in ("C/kg", "mm"):
        return format_measurement(value, uncertainty, unit)
    power = 10.0 ** (3 * math.floor(math.log10(abs(value)) / 3)) if value else 1.0
    number = format_measurement(value / power, uncertainty / power, "1")
    exponent = round(math.log10(power))
    return f"{number}e{exponent} {unit}".replace("e0 ", " ") if exponent else f"{number} {unit}"


def value_text(value: float, unit: str, digits: int = 3) -> str:
    """Write a value with its unit; a dash for none."""
    if not math.isfinite(value):
        return "–"
    if unit in DIMENSIONS:
        return format_quantity(value, unit, digits)
    return f"{value:.{digits}g} {unit}".removesuffix(" 1")


def interval_text(low: float, high: float, uncertainty: float, unit: str) -> str:
    """Write an interval and a standard uncertainty over one power of ten.

    Examples
    --------
    >>> interval_text(1.738e11, 1.834e11, 2.5e9, "C/kg")
    '(1.738 to 1.834, u = 0.025)e11 C/kg'
    >>> interval_text(0.0496, 0.0535, 9.8e-4, "m")
    '49.60 to 53.50, u = 0.98 mm'
    """
    if unit == "m":
        low, high, uncertainty, unit = 1e3 * low, 1e3 * high, 1e3 * uncertainty, "mm"
    size = max(abs(low), abs(high))
    power = 3 * math.floor(math.log10(size) / 3) if size > 0 and math.isfinite(size) else 0
    if unit == "C/kg":
        power = math.floor(math.log10(size)) if size > 0 else 0
    digits = 4
    if uncertainty > 0:
        digits = max(1 - math.floor(math.log10(uncertainty / 10.0**power)), 0)
    a, b, u = (fixed(each / 10.0**power, digits) for each in (low, high, uncertainty))
    inner = f"{a} to {b}, u = {u}"
    shown = "" if unit == "1" else f" {unit}"
    return f"({inner})e{power}{shown}" if power else f"{inner}{shown}"
