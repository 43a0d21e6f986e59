"""Lines of a safety check as they are printed: margins in words, sources by letter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from string import ascii_lowercase

from glowtrace.safety.lines import SafetyLine, Verdict
from glowtrace.words.safety import margin_words, told_line

_ORDER: dict[Verdict, int] = {"stop": 0, "attention": 1, "ok": 2}


@dataclass(frozen=True)
class PrintedLine:
    """A line of a safety check, as `glowtrace.words.safety.ToldLine` but for two things.

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
    ordered = sorted(map(told_line, lines), key=lambda line: _ORDER[line.verdict])
    letters: dict[str, str] = {}
    for line in ordered:
        letters.setdefault(line.source, _letter(len(letters)))
    printed = tuple(
        PrintedLine(
            line.topic,
            line.value,
            line.limit,
            margin_words(line.margin, line.sure_margin),
            letters[line.source],
            line.verdict,
            line.advice,
        )
        for line in ordered
    )
    return printed, tuple((letter, source) for source, letter in letters.items())


def _letter(number: int) -> str:
    """Count a, b, ... z, aa, ab, ..."""
    rest, last = divmod(number, len(ascii_lowercase))
    return (_letter(rest - 1) if rest else "") + ascii_lowercase[last]
