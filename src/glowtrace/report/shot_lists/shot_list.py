"""A shot list printed, and its script in large letters."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from glowtrace.report.sheet_print import Paper, print_sheet, unbroken
from glowtrace.report.shot_lists.content import ShotList, build_shot_list
from glowtrace.report.shot_lists.markdown import markdown

__all__ = ["ShotList", "build_shot_list", "markdown", "print_shot_list"]


def print_shot_list(shots: ShotList, paper: Paper = "a4") -> bytes:
    """Print a shot list that has been built; the same list gives the same bytes.

    Raises
    ------
    GlowtraceError
        An unknown paper.
    """
    data: dict[str, Any] = unbroken(asdict(shots))
    drawings = {}
    for shot in data["shots"]:
        for name in ("settings", "framing", "set_camera"):  # on paper they stand in words
            del shot[name]
        if shot["picture"] is not None:
            name = f"shot-{shot['number']}.svg"
            drawings[name] = shot["picture"].pop("svg")
            shot["picture"]["name"] = name
    return print_sheet("shot_list.typ", data, paper, drawings)
