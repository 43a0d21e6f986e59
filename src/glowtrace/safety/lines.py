"""One line of a safety check: a value against a limit, where the limit is from, and what to do."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from glowtrace.units import format_quantity

Verdict = Literal["ok", "attention", "stop"]
"""Nothing to do; something to heed; do not switch on."""

FROM_MEMORY = "(from memory; check the current edition)"
SECOND_HAND = "(read in a quotation; check the current edition)"
COMMON_PRACTICE = "common practice, no source"

_ICE_POINT = 273.15


@dataclass(frozen=True)
class Limit:
    """A published value in SI, and the text that it stands in with how sure that is.

    The unit is the SI one, or a prefixed one ("mT") in which the value is to be written.
    """

    value: float
    unit: str
    source: str

    def __str__(self) -> str:
        return written(self.value, self.unit)


@dataclass(frozen=True)
class SafetyLine:
    """One finding.

    Attributes
    ----------
    topic
        What was looked at.
    value, limit
        For people, with units; "none" where no limit is published.
    source
        Where the limit is from, and whether it was read there.
    margin
        Share of the limit that is left: 1 far below, 0 at the limit, negative beyond it. None
        where the value is unknown or there is no limit.
    verdict
        See `Verdict`.
    advice
        What to do.
    value_si, limit_si
        The same numbers in SI units; None where unknown or absent.
    """

    topic: str
    value: str
    limit: str
    source: str
    margin: float | None
    verdict: Verdict
    advice: str
    value_si: float | None = None
    limit_si: float | None = None


def compare(
    topic: str,
    value: float,
    limit: Limit,
    beyond: Verdict,
    within_advice: str,
    beyond_advice: str,
    *,
    note: str = "",
) -> SafetyLine:
    """Judge a value against a limit that it should not pass; at the limit is not beyond it.

    Parameters
    ----------
    topic
        What is looked at.
    value
        In SI, of the same kind as the limit.
    limit
        The published value.
    beyond
        The verdict on a larger value.
    within_advice, beyond_advice
        What to do in either case.
    note
        Added to the written value, such as how it was obtained.
    """
    # A value that differs from the limit by rounding only is at it.
    passed = value > limit.value * (1.0 + 1e-9)
    return SafetyLine(
        topic,
        written(value, limit.unit) + (f" {note}" if note else ""),
        str(limit),
        limit.source,
        left_of(value, limit.value, limit.unit),
        beyond if passed else "ok",
        beyond_advice if passed else within_advice,
        value,
        limit.value,
    )


def unknown(topic: str, limit: Limit, what: str, advice: str) -> SafetyLine:
    """Report that a value is not known, which needs attention."""
    return SafetyLine(
        topic, what, str(limit), limit.source, None, "attention", advice, None, limit.value
    )


def left_of(value: float, limit: float, unit: str) -> float:
    """Share of a limit that a value leaves; temperatures count from 0 °C, their usual zero."""
    zero = _ICE_POINT if unit == "K" else 0.0
    return 1.0 - (value - zero) / (limit - zero)


def written(value: float, unit: str) -> str:
    """Write a value for people: temperatures in °C, times in minutes, all else with prefixes."""
    if unit == "K":
        return f"{value - _ICE_POINT:.0f} °C" if math.isfinite(value) else "no end"
    if unit == "s":
        return _duration(value)
    return format_quantity(value, unit)


def _duration(seconds: float) -> str:
    if not math.isfinite(seconds):
        return "no end"
    if seconds < 59.5:
        return f"{seconds:.2g} s"
    minutes, rest = divmod(round(seconds), 60)
    if minutes >= 60:
        hours, minutes = divmod(minutes, 60)
        return f"{hours} h {minutes} min"
    return f"{minutes} min {rest} s" if rest else f"{minutes} min"
