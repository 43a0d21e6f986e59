"""A safety check in words: its lines, what to do in which order, and the cautions."""

from __future__ import annotations

from dataclasses import dataclass

from glowtrace.safety.lines import SafetyLine, Verdict, is_used_up
from glowtrace.safety.review import SafetyReport
from glowtrace.units import percent
from glowtrace.words.language import say
from glowtrace.words.telling import tell


@dataclass(frozen=True)
class ToldLine:
    """A line of a safety check in words; the key and the numbers are those of the line."""

    key: str
    topic: str
    value: str
    limit: str
    source: str
    margin: float | None
    verdict: Verdict
    advice: str
    value_si: float | None
    limit_si: float | None
    sure_margin: float | None


@dataclass(frozen=True)
class ToldReport:
    """A safety check in words, as `glowtrace.safety.review.SafetyReport` has it."""

    lines: tuple[ToldLine, ...]
    switch_on: tuple[str, ...]
    switch_off: tuple[str, ...]
    cautions: tuple[str, ...]


def told_report(report: SafetyReport) -> ToldReport:
    """Give a safety check in words."""
    return ToldReport(
        tuple(map(told_line, report.lines)),
        tuple(map(tell, report.switch_on)),
        tuple(map(tell, report.switch_off)),
        tuple(map(tell, report.cautions)),
    )


def told_line(line: SafetyLine) -> ToldLine:
    """Give a line of a safety check in words."""
    return ToldLine(
        line.topic.key,
        tell(line.topic),
        tell(line.value),
        tell(line.limit),
        tell(line.source),
        line.margin,
        line.verdict,
        tell(line.advice),
        line.value_si,
        line.limit_si,
        line.sure_margin,
    )


def margin_words(margin: float | None, sure: float | None = None) -> str:
    """Say how much of a limit is left, or how often it is passed; with 95 % where that is known."""
    if sure is not None and margin is not None and margin >= 0.0 and not is_used_up(margin):
        told = margin_words(margin)
        if sure < 0.0:
            return say("safety.margin.not_sure", told=told)
        is_the_same = percent(sure) == percent(margin)
        return told if is_the_same else say("safety.margin.sure", told=told, percent=percent(sure))
    if margin is None:
        return say("safety.margin.none")
    if margin < 0.0:
        return say("safety.margin.beyond", times=f"{1.0 - margin:.3g}")
    if is_used_up(margin):
        return say("safety.margin.nothing")
    return say("safety.margin.left", percent=percent(margin))
