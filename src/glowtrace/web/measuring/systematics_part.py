"""What the textbook leaves out on this bench, at the knobs of the readings."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial
from typing import Final

import numpy as np
from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.bench.model import Bench, GasGlow
from glowtrace.bench.parts import Sphere
from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError
from glowtrace.measure.observing import Knobs, Viewing
from glowtrace.measure.systematics import Systematics, systematics
from glowtrace.measure.tube import nominal_tube
from glowtrace.units import exact_text
from glowtrace.web.controls import VALUE, box, button, words
from glowtrace.web.frame import Frame
from glowtrace.web.measuring.budget_view import put_systematics
from glowtrace.web.measuring.fit_run import FitRun
from glowtrace.web.naming import TYPED, read_field

_FIELDS: Final = {
    "gap": "scale to trace",
    "distance": "eye to scale",
    "eye_height": "eye over the axis",
}
"""How the scale is seen: the names of `Viewing` in words."""


class SystematicsPart:
    """Offers to compute the effects, and shows them.

    Parameters
    ----------
    frame
        The page around it.
    """

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._viewing = usual_viewing(frame.bench)
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
                "Each effect is computed with and without, at the knobs of one of the readings. "
                "For parallax, say how eye or camera see the scale; where the trace lies on the "
                "scale, as on a printed screen, there is none.",
                "p",
                "hint",
            )
            with box("taken-at viewing", "fieldset"):
                words("Eye or camera", "legend")
                for name, label in _FIELDS.items():
                    self._field(name, label)
            button("Compute the effects", partial(self._compute, prepared, run))
            self._found = box("effects-found").props('aria-live="polite"')

    def _field(self, name: str, label: str) -> None:
        with box("meter-field", "label"):
            words(label)
            entry = ui.element("input").classes("field")
            entry.props('type="text" autocomplete="off"')
            entry.props[TYPED] = exact_text(getattr(self._viewing, name), "mm")
            entry.on("change", partial(self._changed, name), js_handler=VALUE)

    def _changed(self, name: str, event: GenericEventArguments) -> None:
        try:
            value = read_field(str(event.args), "m", "mm")
            self._viewing = replace(self._viewing, **{name: value})
        except GlowtraceError as error:
            self._frame.say(f"{_FIELDS[name].capitalize()}: {error}")
            return
        self._frame.say("")

    async def _compute(self, prepared: PreparedBench, run: FitRun) -> None:
        self._frame.say("")
        readings, viewing, shown = run.table, self._viewing, self._found

        def work() -> Systematics:
            knobs = knobs_of_readings(prepared, run)
            return systematics(
                prepared, readings.method, knobs, plate_tie=readings.plate_tie, viewing=viewing
            )

        found = await self._frame.compute("Computing each effect with and without", work)
        if found is None or shown.is_deleted:
            return
        shown.clear()
        with shown:
            put_systematics(found, readings.method)


def usual_viewing(bench: Bench) -> Viewing:
    """Give how a scale is usually seen: outside a bulb, in front of it; else with the trace on it.

    Common practice, no source.
    """
    if isinstance(bench.screen, GasGlow) and isinstance(bench.envelope, Sphere):
        return Viewing(gap=bench.envelope.radius)
    return Viewing()


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
