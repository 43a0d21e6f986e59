"""What the textbook leaves out on this bench, at the knobs of the readings."""

from __future__ import annotations

import math
from functools import partial

import numpy as np

from glowtrace.bench.prepared import PreparedBench
from glowtrace.measure.observing import Knobs
from glowtrace.measure.systematics import systematics
from glowtrace.measure.tube import nominal_tube
from glowtrace.web.controls import box, button, words
from glowtrace.web.frame import Frame
from glowtrace.web.measuring.budget_view import put_systematics
from glowtrace.web.measuring.fit_run import FitRun


class SystematicsPart:
    """Offers to compute the effects, and shows them."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._box = box("systematics")

    def clear(self) -> None:
        """Show nothing."""
        self._box.clear()

    def offer(self, prepared: PreparedBench, run: FitRun) -> None:
        """Offer to compute what the textbook leaves out at the knobs of a fit's readings."""
        self._box.clear()
        with self._box:
            words("What the textbook leaves out on this bench", "h3")
            words(
                "Each effect is computed with and without, at the knobs of one of the readings.",
                "p",
                "hint",
            )
            button("Compute the effects", partial(self._compute, prepared, run))

    async def _compute(self, prepared: PreparedBench, run: FitRun) -> None:
        self._frame.say("")
        readings = run.table
        knobs = knobs_of_readings(prepared, run)
        found = await self._frame.compute(
            "Computing each effect with and without",
            lambda: systematics(prepared, readings.method, knobs, plate_tie=readings.plate_tie),
        )
        if found is None:
            return
        self._box.clear()
        with self._box:
            words("What the textbook leaves out on this bench", "h3")
            put_systematics(found, readings.method)


def knobs_of_readings(prepared: PreparedBench, run: FitRun) -> Knobs:
    """Give the knobs of the usable row in which the read quantity is the largest."""
    readings = run.table
    columns = {column.name: readings.values(column.name) for column in readings.columns}
    first = readings.columns[1 if readings.method in ("plates only", "coils only") else 0].name
    row = int(np.nanargmax(np.abs(columns[first])))
    told = {
        name: float(values[row])
        for name, values in columns.items()
        if name in Knobs.__dataclass_fields__ and math.isfinite(float(values[row]))
    }
    if "turns" in told:
        told["turns"] = int(told["turns"])
    if "x" in told:
        told["x"] *= nominal_tube(prepared.bench, "bench").grid_cosine
    elif readings.method == "null" and prepared.bench.plates is not None:
        told["x"] = prepared.bench.plates.start + prepared.bench.plates.length
    return Knobs(**told)  # type: ignore[arg-type]
