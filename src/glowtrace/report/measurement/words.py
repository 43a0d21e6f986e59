"""Quantities, uncertainties and meters of a measurement in words."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Final

from uncertainties import ufloat  # type: ignore[import-untyped]

from glowtrace.measure.methods import Column
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Table
from glowtrace.units import DIMENSIONS, format_measurement, format_quantity

_RAISED: Final = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "+")
_LOWERED: Final = {"V_a": "Vₐ", "V_p": "Vₚ"}


def typeset(text: str) -> str:
    """Write powers of ten, minus signs and indices as print has them.

    Examples
    --------
    >>> typeset("1.786(25)e+11 C/kg")
    '1.786(25) × 10¹¹ C/kg'
    >>> typeset("-2.4 V to 2 V, V_a as read")
    '−2.4 V to 2 V, Vₐ as read'
    """

    def power(match: re.Match[str]) -> str:
        return f" × 10{str(int(match[1])).translate(_RAISED)}"

    text = re.sub(r"(?<=[0-9)])e([+-]?[0-9]+)(?![0-9.])", power, text)
    text = re.sub(r"(?<![\w)])-(?=[0-9.])", "−", text)
    for plain, lowered in _LOWERED.items():
        text = text.replace(plain, lowered)
    return text


def quantity_text(value: float, unit: str, digits: int = 4) -> str:
    """Write a value with its unit, also in units that have no prefixes; "–" for none."""
    if not math.isfinite(value):
        return "–"
    if unit in DIMENSIONS:
        return format_quantity(value, unit, digits)
    return f"{value:.{digits}g} {unit}"


def measurement_text(value: float, uncertainty: float, unit: str) -> str:
    """Write a value with its standard uncertainty."""
    if not (uncertainty > 0 and math.isfinite(uncertainty)):
        return quantity_text(value, unit)
    if abs(value) < uncertainty:
        place = 1 - math.floor(math.log10(uncertainty))  # the second digit of the uncertainty
        rounded = round(value, place) + 0.0
        return f"{quantity_text(rounded, unit, 2)} ± {quantity_text(uncertainty, unit, 2)}"
    if unit in DIMENSIONS:
        return format_measurement(value, uncertainty, unit)
    return f"{ufloat(value, uncertainty):S} {unit}"


def meter_words(readings: Table) -> tuple[str, ...]:
    """Give each instrument of a table with its limits of error."""
    return tuple(_meters(readings))


def _meters(readings: Table) -> Iterator[str]:
    told: set[str] = set()
    for column in readings.columns:
        meter, made = column.meter or column.name, readings.instrument(column.name)
        words = f"{meter.replace('_', ' ')}: {_meter_words(made, column)}"
        if words not in told and made != Instrument():
            told.add(words)
            yield words


def _meter_words(made: Instrument, column: Column) -> str:
    unit = column.si_unit
    words = [made.name] if made.name else []
    if made.resolution:
        words.append(f"steps of {quantity_text(made.resolution, unit, 3)}")
    if made.gain_limit:
        words.append(f"within {100 * made.gain_limit:.3g} % of the reading")
    if made.zero_limit:
        words.append(f"zero within {quantity_text(made.zero_limit, unit, 3)}")
    if made.judgement:
        words.append(f"judged to {quantity_text(made.judgement, unit, 3)} (standard uncertainty)")
    if made.sway:
        words.append("the errors of its map are shared by all points and fitted")
    return ", ".join(words)
