"""Quantities to text: rounded for people, or exact for files."""

from __future__ import annotations

import math
from decimal import Decimal

from glowtrace.units.dimensions import DIMENSIONS, PREFIX_POWER, known_scales
from glowtrace.units.number import Style, styled
from glowtrace.units.reading import parse_quantity


def format_quantity(value_si: float, unit: str, digits: int = 3, *, style: Style = "plain") -> str:
    """Write a value for people, with the prefix of the trade: "3.20 kV", "250 mA", "6.00 deg".

    Parameters
    ----------
    value_si
        The value in the SI unit.
    unit
        SI unit, one of `DIMENSIONS`, to have the prefix chosen (angles in degrees); or a prefixed
        unit such as "mm" to have that one.
    digits
        Significant figures.
    style
        How the number is written.

    Returns
    -------
    str
        Number, blank and unit; NaN and infinity are written as "nan" and "inf".
    """
    if not math.isfinite(value_si):
        return f"{value_si} {unit}" if unit != "1" else f"{value_si}"
    if unit == "rad":
        return f"{styled(_figures(Decimal(math.degrees(value_si)), digits), style)} deg"
    symbol, power = _prefixed(Decimal(f"{value_si:.{digits - 1}e}"), unit)
    number = styled(_figures(Decimal(value_si).scaleb(-power), digits), style)
    return f"{number} {symbol}".strip()


def format_measurement(
    value_si: float, uncertainty_si: float, unit: str, *, style: Style = "plain"
) -> str:
    """Write a value with its standard uncertainty, as in "250.0(15) mA".

    Two figures of the uncertainty are kept when it starts with 1 or 2, else one (the rounding
    rule of the Particle Data Group, which the `uncertainties` package follows).

    Parameters
    ----------
    value_si, uncertainty_si
        Value and standard uncertainty in the SI unit; the latter above zero.
    unit, style
        As for `format_quantity`.
    """
    from uncertainties import ufloat  # type: ignore[import-untyped]

    if unit == "rad":
        written = f"{ufloat(math.degrees(value_si), math.degrees(uncertainty_si)):S}"
        return f"{styled(written, style)} deg"
    symbol, power = _prefixed(Decimal(f"{value_si:.2e}"), unit)
    scale = 10.0**-power
    written = f"{ufloat(value_si * scale, uncertainty_si * scale):S}"
    return f"{styled(written, style)} {symbol}".strip()


def exact_text(value_si: float, unit: str) -> str:
    """Write a finite value so that `parse_quantity` gives back the identical float.

    Parameters
    ----------
    value_si
        The value in the SI unit, finite.
    unit
        As for `format_quantity`.

    Examples
    --------
    >>> exact_text(0.049, "mm"), exact_text(3200.0, "V")
    ('49 mm', '3.2 kV')
    """
    if unit == "rad":
        return _exact_angle(value_si)
    written = Decimal(repr(value_si))
    symbol, power = _prefixed(written, unit)
    return f"{_all_figures(written.scaleb(-power))} {symbol}".strip()


def exact_measurement_text(value_si: float, uncertainty_si: float, unit: str) -> str:
    """Write a value and its standard uncertainty so that `parse_measurement` gives both back.

    Parameters as for `exact_text`; the uncertainty is above zero.

    Examples
    --------
    >>> exact_measurement_text(0.052, 0.001, "mm")
    '52 mm ± 1 mm'
    """
    if unit == "1":  # without exponents: one behind both would count for both
        return " ± ".join(f"{Decimal(repr(each)):f}" for each in (value_si, uncertainty_si))
    return f"{exact_text(value_si, unit)} ± {exact_text(uncertainty_si, unit)}"


def _exact_angle(angle: float) -> str:
    """Write an angle in degrees where short degrees give the identical float, else in radians."""
    degrees = float(f"{math.degrees(angle):.12g}")
    if math.isfinite(degrees):
        text = f"{_all_figures(Decimal(repr(degrees)))} deg"
        if parse_quantity(text, "rad") == angle:
            return text
    return f"{_all_figures(Decimal(repr(angle)))} rad"


def _prefixed(value: Decimal, unit: str) -> tuple[str, int]:
    """Choose the prefixed unit and its power of ten so that 1 <= number < 1000 where it can be."""
    if unit not in DIMENSIONS:
        return unit, known_scales()[unit].power
    prefixes = DIMENSIONS[unit].prefixes or "_"
    if not value:
        return ("" if unit == "1" else unit), 0
    fitting = [p for p in prefixes if PREFIX_POWER[p] <= value.adjusted()] or [prefixes[0]]
    symbol = fitting[-1].replace("_", "") + unit
    return ("" if unit == "1" else symbol), PREFIX_POWER[fitting[-1]]


def _figures(value: Decimal, digits: int) -> str:
    """Write significant figures, without an exponent where the number is of handy size."""
    rounded = Decimal(f"{value:.{digits - 1}e}")
    if not rounded:
        return "0"
    if -4 <= rounded.adjusted() < 7:
        return f"{rounded:.{max(digits - 1 - rounded.adjusted(), 0)}f}"
    return f"{rounded:.{digits - 1}e}"


def _all_figures(value: Decimal) -> str:
    """Write every figure, without an exponent where the number is of handy size."""
    if not -7 <= value.adjusted() < 16:
        return str(value)
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
