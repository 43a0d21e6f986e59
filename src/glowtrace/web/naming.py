"""Settings in words and large numbers."""

from __future__ import annotations

from typing import NamedTuple

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import KNOBS, knobs_of
from glowtrace.bench.settings import Settings
from glowtrace.report.caption import quantity_words
from glowtrace.units import format_quantity, parse_quantity
from glowtrace.words.bench import knob_name, tie_words


class Fact(NamedTuple):
    """A knob, its value with unit, and how its circuit is switched."""

    name: str
    value: str
    note: str


def knob_facts(bench: Bench, settings: Settings) -> tuple[Fact, ...]:
    """Give each knob of a bench as it is set, with polarity, tie and supply in words."""
    return tuple(
        Fact(
            knob_name(knob),
            knob_text(knob, float(getattr(settings, knob))),
            _note(knob, settings) if getattr(settings, knob) else "",
        )
        for knob in knobs_of(bench)
    )


def knob_text(knob: str, value: float) -> str:
    """Write a knob's value with its unit."""
    return format_quantity(value, KNOBS[knob])


def _note(knob: str, settings: Settings) -> str:
    if knob == "accelerating_voltage":
        return "" if settings.heater_on else "heater off"
    if knob == "coil_current":
        return "reversed" if settings.coil_reversed else "normal polarity"
    polarity = "upper plate negative" if settings.plate_reversed else "upper plate positive"
    shared = settings.plate_source == "accelerating supply"
    supply = ", from the accelerating supply" if shared else ""
    return f"{polarity}, {tie_words(settings.plate_tie)}{supply}"


def read_field(text: str, unit: str, usual: str) -> float:
    """Read what a person typed into a field, in SI; a bare number is in the usual unit.

    Raises
    ------
    QuantityError
        It is no such quantity.
    """
    written = text.strip().replace("−", "-").replace(",", ".")
    if unit == "1":
        return parse_quantity(written, "1")
    has_unit = written[-1:].isalpha() or written.endswith("°")
    return parse_quantity(written if has_unit else f"{written} {usual}", unit)


def field_text(value: float, unit: str) -> str:
    """Write a value for a field: every figure that a person would type, and no more."""
    if unit == "1":
        return f"{value:.4g}"
    return quantity_words(value, "mm" if unit == "m" else unit)
