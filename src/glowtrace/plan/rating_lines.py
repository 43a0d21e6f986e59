"""Ratings drawn on a map of two knobs: straight lines that a setting must not cross."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.goal import Knob
from glowtrace.demos.kinematics import FloatArray
from glowtrace.plan.limits import limits


@dataclass(frozen=True, eq=False)
class RatingLine:
    """A rating on a map: a straight line, and the words of the rating."""

    text: str
    start: tuple[float, float]
    """(x, y) in the knobs' SI units."""
    end: tuple[float, float]

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
        for value, why in ((known.low, known.low_why), (known.high, known.high_why)):
            if low < value <= high:
                ends = ((value, y0), (value, y1)) if knob == knob_x else ((x0, value), (x1, value))
                lines.append(RatingLine(why, *ends))
    if {knob_x, knob_y} == {"plate_voltage", "accelerating_voltage"} and (
        settings.plate_source == "accelerating supply"
    ):
        low, high = max(x0, y0), min(x1, y1)
        if low < high:
            text = "the plates share the accelerating voltage"
            lines.append(RatingLine(text, (low, low), (high, high)))
    return tuple(lines)
