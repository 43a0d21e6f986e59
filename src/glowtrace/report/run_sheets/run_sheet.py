"""Run sheets: one demonstration on paper, from the wiring to the discharge.

A verdict "stop" of the safety check stands at the top of the first page and cannot be left out.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import Goal
from glowtrace.plan.answer import Plan
from glowtrace.plan.leads import Earthed
from glowtrace.report.run_sheets.content import RunSheet, build_run_sheet
from glowtrace.report.run_sheets.markdown import markdown
from glowtrace.report.sheet_print import Paper, print_sheet, require_paper, unbroken

__all__ = ["Paper", "RunSheet", "build_run_sheet", "print_run_sheet", "run_sheet",
           "run_sheet_markdown"]  # fmt: skip

_DIAGRAM = "wiring.svg"


def run_sheet(
    prepared: PreparedBench,
    settings: Settings,
    *,
    plan: Plan | None = None,
    goal: Goal | None = None,
    paper: Paper = "a4",
    run_minutes: float = 15.0,
    room_temperature: float = 293.15,
    earthed: Earthed = "anode",
) -> bytes:
    """Give a run sheet as PDF; the same input gives the same bytes.

    Parameters
    ----------
    prepared, settings, plan, goal, run_minutes, room_temperature, earthed
        As for `glowtrace.report.run_sheets.content.build_run_sheet`.
    paper
        "a4" or "us-letter".

    Raises
    ------
    GlowtraceError
        An unknown paper, a plan for other settings, or the heater off.
    """
    require_paper(paper)
    sheet = build_run_sheet(
        prepared, settings, plan=plan, goal=goal, run_minutes=run_minutes,
        room_temperature=room_temperature, earthed=earthed,
    )  # fmt: skip
    return print_run_sheet(sheet, paper)


def run_sheet_markdown(
    prepared: PreparedBench,
    settings: Settings,
    *,
    plan: Plan | None = None,
    goal: Goal | None = None,
    run_minutes: float = 15.0,
    room_temperature: float = 293.15,
    earthed: Earthed = "anode",
) -> str:
    """Give the same run sheet as Markdown, the pictures in words only.

    Parameters
    ----------
    prepared, settings, plan, goal, run_minutes, room_temperature, earthed
        As for `glowtrace.report.run_sheets.content.build_run_sheet`.

    Raises
    ------
    GlowtraceError
        A plan for other settings, or the heater off.
    """
    return markdown(
        build_run_sheet(
            prepared, settings, plan=plan, goal=goal, run_minutes=run_minutes,
            room_temperature=room_temperature, earthed=earthed,
        )
    )  # fmt: skip


def print_run_sheet(sheet: RunSheet, paper: Paper = "a4") -> bytes:
    """Print a run sheet that has been built; the same sheet gives the same bytes.

    Raises
    ------
    GlowtraceError
        An unknown paper.
    """
    data: dict[str, Any] = unbroken(asdict(sheet))
    drawings = {_DIAGRAM: data["diagram"]}
    data["diagram"] = _DIAGRAM
    for step in data["steps"]:
        del step["settings"]  # for those who show a step; paper has its knobs in words
        if step["picture"] is not None:
            name = f"step-{step['number']}.svg"
            drawings[name] = step["picture"].pop("svg")
            step["picture"]["name"] = name
    return print_sheet("run_sheet.typ", data, paper, drawings)
