"""A run sheet as PDF."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from glowtrace.report.run_sheet import RunSheet
from glowtrace.report.sheet_print import print_sheet

_DIAGRAM = "wiring.svg"


def run_sheet_pdf(sheet: RunSheet, paper: str = "a4") -> bytes:
    """Print a run sheet; the same sheet gives the same bytes.

    Raises
    ------
    GlowtraceError
        A paper other than "a4" and "us-letter".
    """
    data: dict[str, Any] = asdict(sheet)
    drawings = {_DIAGRAM: data["diagram"]}
    data["diagram"] = _DIAGRAM
    for step in data["steps"]:
        if step["picture"] is not None:
            name = f"step-{step['number']}.svg"
            drawings[name] = step["picture"].pop("svg")
            step["picture"]["name"] = name
    return print_sheet("run_sheet.typ", data, paper, drawings)
