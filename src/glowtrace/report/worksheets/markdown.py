"""Worksheets as Markdown: the same questions and answers, a picture as a table of its points."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from glowtrace.errors import GlowtraceError
from glowtrace.report.run_sheets.markdown import escaped
from glowtrace.report.worksheets.content import LEVELS, Graph, Question, Worksheet
from glowtrace.report.worksheets.print import Part

_SAFETY = (
    "Where you read the trace on the real tube: the teacher alone operates the high voltage; "
    "local rules and the person responsible decide."
)


def worksheets_markdown(sheets: Sequence[Worksheet], part: Part = "sheets") -> str:
    """Give worksheets as text.

    Parameters
    ----------
    sheets, part
        As for `glowtrace.report.worksheets.print.print_worksheets`.

    Raises
    ------
    GlowtraceError
        No sheets.
    """
    if not sheets:
        raise GlowtraceError("There are no worksheets to write: ask for 1 or more.")
    blocks = []
    if part != "answers":
        blocks += [block for sheet in sheets for block in _sheet(sheet)]
    if part != "sheets":
        blocks += [block for sheet in sheets for block in _answers(sheet)]
    return "\n\n".join(blocks) + "\n"


def _sheet(sheet: Worksheet) -> Iterator[str]:
    yield from _head(sheet, "Worksheet")
    yield "Name: ______________________  Date: ____________".replace("_", "\\_")
    for title, rows in (("Tube", sheet.data), ("Constants", sheet.constants)):
        if rows:
            told = "; ".join(
                f"{name} {symbol}".strip() + f": {value}" for name, symbol, value in rows
            )
            yield f"**{title}.** {escaped(told)}."
    yield escaped(_SAFETY)
    for number, each in enumerate(sheet.questions, start=1):
        yield f"## {number}. {escaped(each.topic)}"
        yield from (escaped(paragraph) for paragraph in each.text)
        if each.graph is not None:
            yield from _graph(each.graph)


def _answers(sheet: Worksheet) -> Iterator[str]:
    yield from _head(sheet, "Answers")
    for number, each in enumerate(sheet.questions, start=1):
        yield f"## {number}. {escaped(each.topic)}"
        yield from _answer(each)


def _head(sheet: Worksheet, kind: str) -> Iterator[str]:
    invented = " An invented bench, for demonstration." if sheet.is_invented else ""
    yield f"# {escaped(sheet.title)}: {kind.lower()} {sheet.number}"
    yield f"{kind}. Mathematics needed: {LEVELS[sheet.level]}.{invented}"


def _answer(each: Question) -> Iterator[str]:
    yield "\n".join(f"- {escaped(step)}" for step in each.steps)
    if each.results:
        yield "; ".join(f"**{escaped(one.text)}**" for one in each.results)
    if each.remark:
        yield f"Remark: {escaped(each.remark)}"


def _graph(graph: Graph) -> Iterator[str]:
    yield escaped(f"{graph.words} Here are its points: draw them on squared paper first.")
    lines = [graph.head, ("---:",) * len(graph.head), *graph.rows]
    yield "\n".join(f"| {' | '.join(line)} |" for line in lines)
