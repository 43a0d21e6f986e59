"""The one writer of numbers: their sign, their decimal sign, and powers of ten.

Everything that people read has its numbers from here, or through `format_quantity` and its like,
which take the same styles; files and the command line have them plain.
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Final, Literal

Style = Literal["plain", "typeset", "html"]
"""How a number is written: "-1.6e-19" for a command line and for reading back, "−1.6 × 10⁻¹⁹" for
print, or the same with raised figures that any letters of a page have."""

NONE: Final = "–"
"""Stands where there is no number."""
_RAISED: Final = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_ON_PAGE: Final = {
    ord(raised): f"<sup>{sign}</sup>"
    for raised, sign in zip("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "−0123456789", strict=True)
}


def styled(written: str, style: Style = "typeset") -> str:
    """Give a number that is written as programs do in a style.

    Examples
    --------
    >>> styled("-1.6e-19"), styled("1.786(25)e+11"), styled("-0.5")
    ('−1.6 × 10⁻¹⁹', '1.786(25) × 10¹¹', '−0.5')
    >>> styled("1.786(25)e+11", "html"), styled("-1.6e-19", "plain")
    ('1.786(25) × 10<sup>11</sup>', '-1.6e-19')
    """
    if style == "plain":
        return written
    figures, _, power = written.replace("-", "−").partition("e")
    if not power:
        return figures
    exponent = int(power.replace("−", "-"))
    if style == "html":
        return f"{figures} × 10<sup>{exponent}</sup>".replace("-", "−")
    return f"{figures} × 10{str(exponent).translate(_RAISED)}"


def page_text(text: str) -> str:
    """Give a typeset text for the page, whose letters lack small raised figures.

    Examples
    --------
    >>> page_text("3.1 × 10⁻¹⁵ N")
    '3.1 × 10<sup>−</sup><sup>1</sup><sup>5</sup> N'
    """
    return text.translate(_ON_PAGE)


def fixed(
    value: float, decimals: int = 0, *, signed: bool = False, style: Style = "typeset"
) -> str:
    """Write a number with so many decimals; what rounds to nought has no sign.

    Examples
    --------
    >>> fixed(-3.25, 1), fixed(-0.01, 1), fixed(2.5, 2, signed=True), fixed(float("nan"))
    ('−3.2', '0.0', '+2.50', '–')
    """
    if not math.isfinite(value):
        return NONE
    written = f"{value:z.{decimals}f}"
    return styled(f"+{written}" if signed and value > 0 and float(written) else written, style)


def significant(value: float, digits: int = 3, *, style: Style = "typeset") -> str:
    """Write a number with so many figures, without a power of ten.

    Examples
    --------
    >>> significant(0.05236), significant(3200.0, 2), significant(-1.0, 1), significant(0.0)
    ('0.0524', '3200', '−1', '0')
    """
    if value == 0.0:
        return "0"
    rounded = Decimal(f"{value:.{digits - 1}e}")
    return styled(f"{rounded:.{max(0, digits - 1 - rounded.adjusted())}f}", style)


def shortest(value: float, digits: int = 6, *, style: Style = "typeset") -> str:
    """Write a number with as few figures as say all of it, and at most so many.

    Examples
    --------
    >>> shortest(-20.0), shortest(0.5), shortest(1.31e9, 2)
    ('−20', '0.5', '1.3 × 10⁹')
    """
    return styled(f"{value:.{digits}g}", style) if math.isfinite(value) else NONE


def scientific(value: float, unit: str = "", digits: int = 2, *, style: Style = "typeset") -> str:
    """Write a quantity as a × 10ⁿ with 1 ≤ a < 10, whatever its size.

    Examples
    --------
    >>> scientific(3200.0, "V"), scientific(-1.4e-19, "C"), scientific(0.0, "N")
    ('3.2 × 10³ V', '−1.4 × 10⁻¹⁹ C', '0 N')
    """
    if value == 0.0:
        return f"0 {unit}".strip()
    number = styled(f"{value:.{digits - 1}e}", style) if math.isfinite(value) else NONE
    return f"{number} {unit}".strip()


def percent(
    share: float, decimals: int = 0, *, signed: bool = False, style: Style = "typeset"
) -> str:
    """Write a part of a whole in per cent.

    Examples
    --------
    >>> percent(0.108), percent(-0.0123, 1, signed=True), percent(-0.0001, 1, signed=True)
    ('11 %', '−1.2 %', '0.0 %')
    """
    number = fixed(100.0 * share, decimals, signed=signed, style=style)
    return number if number == NONE else f"{number} %"
