"""Findings told: a message for each key, and numbers written for people."""

from __future__ import annotations

import math

from glowtrace.findings import Finding, Quantity, Told
from glowtrace.units import format_quantity
from glowtrace.words.language import say

_ICE_POINT = 273.15


def tell(told: Told | tuple[Told, ...]) -> str:
    """Give what was found in words; several findings as sentences one after the other."""
    if isinstance(told, tuple):
        return " ".join(map(tell, told))
    if isinstance(told, Finding):
        return say(told.key, **{name: tell(value) for name, value in told.values})
    return quantity_words(told) if isinstance(told, Quantity) else told


def quantity_words(told: Quantity) -> str:
    """Write a value for people: temperatures in °C, times in minutes, all else with prefixes.

    Examples
    --------
    >>> quantity_words(Quantity(324.15, "K")), quantity_words(Quantity(75.0, "s"))
    ('51 °C', '1 min 15 s')
    """
    if told.unit not in ("K", "s"):
        return format_quantity(told.value, told.unit)
    if not math.isfinite(told.value):
        return say("quantity.no_end")
    if told.unit == "K":
        return f"{told.value - _ICE_POINT:.0f} °C"
    return _duration(told.value)


def _duration(seconds: float) -> str:
    if seconds < 59.5:
        return f"{seconds:.2g} s"
    minutes, rest = divmod(round(seconds), 60)
    if minutes >= 60:
        hours, minutes = divmod(minutes, 60)
        return f"{hours} h {minutes} min"
    return f"{minutes} min {rest} s" if rest else f"{minutes} min"
