"""One line of a safety check: a value against a limit, where the limit is from, and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from glowtrace.findings import Finding, Quantity, Told, finding

Verdict = Literal["ok", "attention", "stop"]
"""Nothing to do; something to heed; do not switch on."""
Advice = tuple[Finding, ...]

_ICE_POINT = 273.15
_USED_UP = 0.005
"""Share of a limit; less is written as nothing."""
_NOTHING_LEFT = finding("safety.advice.nothing_left")


@dataclass(frozen=True)
class Limit:
    """A published value in SI, and the text that it stands in with how sure that is.

    The unit is the SI one, or a prefixed one ("mT") in which the value is to be written.
    """

    value: float
    unit: str
    source: Finding

    @property
    def quantity(self) -> Quantity:
        """The value with its unit."""
        return Quantity(self.value, self.unit)


@dataclass(frozen=True)
class SafetyLine:
    """One finding.

    Attributes
    ----------
    topic
        What was looked at.
    value, limit
        For people, with units.
    source
        Where the limit is from, and whether it was read there.
    margin
        Share of the limit that is left: 1 far below, 0 at the limit, negative beyond it. None
        where the value is unknown or there is no limit.
    verdict
        See `Verdict`.
    advice
        What to do, sentence by sentence.
    value_si, limit_si
        The same numbers in SI units; None where unknown or absent.
    sure_margin
        What is left at least with 95 %, as far as the bench tells how well its numbers are known;
        None where it tells nothing that counts here.
    """

    topic: Finding
    value: Told
    limit: Told
    source: Finding
    margin: float | None
    verdict: Verdict
    advice: Advice
    value_si: float | None = None
    limit_si: float | None = None
    sure_margin: float | None = None


def compare(
    topic: Finding,
    value: float,
    limit: Limit,
    beyond: Verdict,
    within_advice: Advice,
    beyond_advice: Advice,
    *,
    told: Finding | None = None,
    counts_at: bool = False,
) -> SafetyLine:
    """Judge a value against a limit that it should not pass; at the limit is not beyond it.

    A value that leaves less than half a per cent of its limit wants attention: it is not kept by
    any margin that a meter could tell.

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
    told
        The value with how it was obtained; the bare value when left out.
    counts_at
        Whether the limit begins at its very value, so that a value at it is beyond it.
    """
    # A value that differs from the limit by rounding only is at it.
    rounding = -1e-9 if counts_at else 1e-9
    margin = left_of(value, limit.value, limit.unit)
    verdict, advice = beyond, beyond_advice
    if value <= limit.value * (1.0 + rounding):
        used_up = is_used_up(margin)
        verdict = "attention" if used_up else "ok"
        advice = (_NOTHING_LEFT, *within_advice) if used_up else within_advice
    return SafetyLine(
        topic,
        told or Quantity(value, limit.unit),
        limit.quantity,
        limit.source,
        margin,
        verdict,
        advice,
        value,
        limit.value,
    )


def is_used_up(margin: float) -> bool:
    """Whether so little of a limit is left that no meter could tell it."""
    return margin < _USED_UP


def unknown(topic: Finding, limit: Limit, what: Finding, advice: Advice) -> SafetyLine:
    """Report that a value is not known, which needs attention."""
    return SafetyLine(
        topic, what, limit.quantity, limit.source, None, "attention", advice, None, limit.value
    )


def left_of(value: float, limit: float, unit: str) -> float:
    """Share of a limit that a value leaves; temperatures count from 0 °C, their usual zero."""
    zero = _ICE_POINT if unit == "K" else 0.0
    return 1.0 - (value - zero) / (limit - zero)
