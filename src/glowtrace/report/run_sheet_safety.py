"""Lines of a safety check as they are printed: margins in words, sources by letter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from string import ascii_lowercase

from glowtrace.safety.lines import SafetyLine, Verdict

_ORDER: dict[Verdict, int] = {"stop": 0, "attention": 1, "ok": 2}


@dataclass(frozen=True)
class PrintedLine:
    """A line of a safety check, as `glowtrace.safety.lines.SafetyLine` but for two things.

    `margin` is in words, and `source` is the letter under which the source is listed.
    """

    topic: str
    value: str
    limit: str
    margin: str
    source: str
    verdict: Verdict
    advice: str


def printed_lines(
    lines: Iterable[SafetyLine],
) -> tuple[tuple[PrintedLine, ...], tuple[tuple[str, str], ...]]:
    """Give the lines, the gravest first, and the sources that their letters stand for."""
    ordered = sorted(lines, key=lambda line: _ORDER[line.verdict])
    letters: dict[str, str] = {}
    for line in ordered:
        letters.setdefault(line.source, _letter(len(letters)))
    printed = tuple(
        PrintedLine(
            line.topic.replace("_", " "),
            line.value,
            line.limit,
            margin_words(line),
            letters[line.source],
            line.verdict,
            line.advice,
        )
        for line in ordered
    )
    return printed, tuple((letter, source) for source, letter in letters.items())


def margin_words(line: SafetyLine) -> str:
    """Say how much of a limit is left, or how often it is passed."""
    if line.margin is None:
        return "–"
    if line.margin < 0.0:
        return f"{1.0 - line.margin:.3g} × the limit"
    return f"{100 * line.margin:.0f} % left"


def _letter(number: int) -> str:
    """Count a, b, ... z, aa, ab, ..."""
    rest, last = divmod(number, len(ascii_lowercase))
    return (_letter(rest - 1) if rest else "") + ascii_lowercase[last]
