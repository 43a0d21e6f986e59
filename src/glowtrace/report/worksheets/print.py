"""Worksheets as PDF: all learners in one file, with or without the answer keys."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, Final, Literal

from glowtrace.errors import GlowtraceError
from glowtrace.report.sheet_print import Paper, print_sheet, show_pages
from glowtrace.report.worksheets.content import LEVELS, Question, Worksheet

Part = Literal["sheets", "answers", "both"]
_POINTS: Final = re.compile(r'width="([\d.]+)pt"')
_MM_PER_POINT: Final = 25.4 / 72


def print_worksheets(
    sheets: Sequence[Worksheet], paper: Paper = "a4", part: Part = "sheets"
) -> bytes:
    """Print worksheets; the same sheets give the same bytes.

    Parameters
    ----------
    sheets
        One for each learner; each begins on a page of its own.
    paper
        "a4" or "us-letter".
    part
        "sheets" for learners, "answers" for the teacher, or "both", the answers behind.

    Raises
    ------
    GlowtraceError
        No sheets, or an unknown paper.
    """
    if not sheets:
        raise GlowtraceError("There are no worksheets to print: ask for 1 or more.")
    data, drawings = _data(sheets, part)
    return print_sheet("worksheet.typ", data, paper, drawings)


def show_first_pages(sheet: Worksheet, paper: Paper = "a4") -> tuple[bytes, bytes]:
    """Give the first page of a sheet and that of its answers as PNG files, to look at."""
    first = []
    parts: tuple[Part, Part] = ("sheets", "answers")
    for part in parts:
        data, drawings = _data([sheet], part)
        first.append(show_pages("worksheet.typ", data, paper, drawings)[0])
    return first[0], first[1]


def _data(sheets: Sequence[Worksheet], part: Part) -> tuple[dict[str, Any], dict[str, str]]:
    """Give what the template reads, and its drawings by their names."""
    drawings: dict[str, str] = {}
    data = {
        "title": f"{sheets[0].title}, worksheets",
        "has_questions": part != "answers",
        "has_key": part != "sheets",
        "sheets": [_sheet(sheet, drawings) for sheet in sheets],
    }
    return data, drawings


def _sheet(sheet: Worksheet, drawings: dict[str, str]) -> dict[str, Any]:
    return {
        "title": sheet.title,
        "number": sheet.number,
        "is_invented": sheet.is_invented,
        "level_words": LEVELS[sheet.level],
        "data": sheet.data,
        "constants": sheet.constants,
        "questions": [
            _question(each, f"{sheet.number}-{n}.svg", drawings)
            for n, each in enumerate(sheet.questions, start=1)
        ],
    }


def _question(each: Question, name: str, drawings: dict[str, str]) -> dict[str, Any]:
    graph = None
    if each.graph is not None:
        drawings[name] = each.graph.svg
        graph = {"name": name, "words": each.graph.words, "width_mm": _width_mm(each.graph.svg)}
    return {
        "topic": each.topic,
        "text": each.text,
        "room": each.room,
        "steps": each.steps,
        "results": [one.text for one in each.results],
        "remark": each.remark,
        "graph": graph,
    }


def _width_mm(svg: str) -> float:
    found = _POINTS.search(svg)
    return float(found[1]) * _MM_PER_POINT if found else 170.0
