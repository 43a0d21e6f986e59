"""The line of a photograph in words, and as readings."""

from __future__ import annotations

import re

import numpy as np
from nicegui import ui

from glowtrace.bench.model import Screen
from glowtrace.measure.methods import Method
from glowtrace.measure.photograph_readings import KnobReadings, circle_readings, line_readings
from glowtrace.measure.tables.readings import Table, Tie
from glowtrace.photographs.agreement import require_on_screen
from glowtrace.photographs.circle import circle_of_line
from glowtrace.photographs.trace_line import Shape, TraceLine
from glowtrace.web.controls import words
from glowtrace.web.measure.draft import empty_draft


def readings_of_line(
    line: TraceLine, screen: Screen, knobs: KnobReadings, shape: Shape, tie: Tie
) -> Table:
    """Give a circle for a line that closes, points (x, y) for one that goes along.

    Raises
    ------
    PhotographError
        The line has too few points, or the knobs do not belong to such a line.
    """
    if shape == "loop":
        usual = dict(empty_draft("circle").instruments)
        circle = circle_of_line(line)
        require_on_screen(circle, line)
        return circle_readings(circle, knobs, instruments=usual)
    method: Method = "plates only" if knobs.coil_current is None else "coils only"
    meters = dict(empty_draft(method).instruments)
    meters.pop("ruler")  # the photograph is the ruler
    return line_readings(line, screen, knobs, instruments=meters, plate_tie=tie)


def put_findings(element: ui.element, line: TraceLine | None) -> None:
    """Say what is to be known about a line."""
    element.clear()
    if line is None:
        return
    with element:
        is_wide = np.isfinite(line.width)
        width = f", {2e3 * np.median(line.width[is_wide]):.2f} mm wide"
        words(f"Line: {len(line.kept)} points{width if is_wide.any() else ''}.", "li")
        for finding in line.findings:
            says = re.sub(r"\bu from\b", "along the screen from", finding.says)
            words(f"{says[:1].upper()}{says[1:]}.", "li")
