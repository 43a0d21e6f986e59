"""A sheet to take to the cupboard: the bench's drawing, and a line for each number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from glowtrace.bench.conflicts import Assembly
from glowtrace.bench.meanings import Number, explained
from glowtrace.report.bench_drawing import WIDTH, draw_bench
from glowtrace.report.look import PRINT
from glowtrace.report.sheet_print import Paper, print_sheet

_DRAWING = "bench.svg"


def print_measuring_sheet(
    name: str,
    numbers: Sequence[tuple[str, Sequence[Number]]],
    parts: Assembly,
    paper: Paper = "a4",
) -> bytes:
    """Give the PDF.

    Parameters
    ----------
    name
        Of the bench.
    numbers
        The parts in words, each with its numbers, in the order of the form.
    parts
        What is drawn.
    paper
        "a4" or "us-letter".
    """
    drawing = draw_bench(parts, PRINT)
    data: dict[str, Any] = {
        "title": "Measuring sheet",
        "bench": name,
        "drawing": _DRAWING,
        "share": min(0.62, 0.5 * WIDTH / drawing.height),
        "parts": [
            {"name": part, "rows": [_row(each, drawing.letters) for each in wanted]}
            for part, wanted in numbers
            if wanted
        ],
    }
    return print_sheet("measuring_sheet.typ", data, paper, {_DRAWING: drawing.svg})


def _row(number: Number, letters: Mapping[str, str]) -> dict[str, Any]:
    return {
        "letter": letters.get(number.path, ""),
        "name": number.meaning.name,
        "help": explained(number, with_range=False) if number.meaning.is_first else "",
        "first": number.meaning.is_first,
    }
