"""Ratings drawn on a map of two knobs: straight lines that a setting must not cross."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.goal import Knob
from glowtrace.demos.kinematics import FloatArray
from glowtrace.plan.limits import limits

Side = Literal["above", "below"]


@dataclass(frozen=True, eq=False)
class RatingLine:
    """A rating on a map: a straight line, the words of the rating, and where it is kept."""

    text: str
    start: tuple[float, float]
    """(x, y) in the knobs' SI units."""
    end: tuple[float, float]
    allows: Side
    """Whether settings above or below the line keep the rating: along x for an upright line,
    along y for all others."""

    def as_dict(self) -> dict[str, Any]:
        """Give plain data, in the SI units of the map's knobs."""
        return {"text": self.text, "start_si": list(self.start), "end_si": list(self.end)}


def rating_lines(
    bench: Bench, settings: Settings, knob_x: Knob, knob_y: Knob, x: FloatArray, y: FloatArray
) -> tuple[RatingLine, ...]:
    """Give the ratings that cross a map, as lines.

    Parameters
    ----------
    bench, settings
        The bench, and all settings that are not on the axes.
    knob_x, knob_y
        The knobs along the map's axes.
    x, y
        Their settings in SI, rising.
    """
    (x0, x1), (y0, y1) = (float(x[0]), float(x[-1])), (float(y[0]), float(y[-1]))
    others: dict[str, float] = {knob_x: x1, knob_y: y1, "plate_voltage": 0.0}
    alone = settings.model_copy(update=others)
    lines = []
    for knob, low, high in ((knob_x, x0, x1), (knob_y, y0, y1)):
        known = limits(bench, alone, knob)
        if knob == "plate_voltage" and settings.plate_source == "accelerating supply":
            rated = bench.plates.max_voltage if bench.plates else 0.0
            known = known._replace(high=rated)
        sides: tuple[tuple[float, str, Side], ...] = (
            (known.low, known.low_why, "above"),
            (known.high, known.high_why, "below"),
        )
        for value, why, side in sides:
            if value <= 0:
                continue
            if low < value <= high:
                ends = ((value, y0), (value, y1)) if knob == knob_x else ((x0, value), (x1, value))
                lines.append(RatingLine(why, *ends, side))
            if knob != "accelerating_voltage" and low <= -value < high:
                ends = (
                    ((-value, y0), (-value, y1)) if knob == knob_x else ((x0, -value), (x1, -value))
                )
                other: Side = "above" if side == "below" else "below"
                lines.append(RatingLine(f"{why}, the other way round", *ends, other))
    if {knob_x, knob_y} == {"plate_voltage", "accelerating_voltage"} and (
        settings.plate_source == "accelerating supply"
    ):
        low, high = max(x0, y0), min(x1, y1)
        if low < high:
            text = "the plates share the accelerating voltage"
            allows: Side = "below" if knob_y == "plate_voltage" else "above"
            lines.append(RatingLine(text, (low, low), (high, high), allows))
    return tuple(lines)
