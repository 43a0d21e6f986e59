"""What the textbook leaves out on this bench, at the knobs of the readings."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial
from typing import Final

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.parts import Sphere
from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError
from glowtrace.measure.observing import Knobs, Viewing
from glowtrace.measure.systematics import Systematics, systematics
from glowtrace.measure.tube import nominal_tube
from glowtrace.units import carries_uncertainty, exact_text, parse_measurement
from glowtrace.watching import Cancelled, Progress
from glowtrace.web.controls import asked, box, button, hint, words
from glowtrace.web.frame import Frame
from glowtrace.web.measure.budget_view import put_systematics
from glowtrace.web.measure.fit_run import FitRun
from glowtrace.web.measure.writing import value_text
from glowtrace.web.naming import read_field

_FIELDS: Final = {
    "gap": "Scale to trace",
    "distance": "Eye to scale",
    "eye_height": "Eye over the axis",
}
"""How the scale is seen: the names of `Viewing` in words."""
_DISTANCE_SPREAD: Final = 0.15
"""m: how well an eye's distance is known that nobody measured. Own estimate, no source."""


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
        self._spread = _DISTANCE_SPREAD
        self._is_preset = True
        self._box = box("stack systematics")

    def clear(self) -> None:
        """Show nothing."""
        self._box.clear()

    def offer(self, prepared: PreparedBench, run: FitRun) -> None:
        """Offer to compute what the textbook leaves out at the knobs of a fit's readings."""
        self._box.clear()
        with self._box:
            words("What the textbook leaves out on this bench", "h2")
            hint(
                f"Each effect is computed with and without, {_knobs_words(run)}. Readings in both "
                "polarities, averaged, cancel most of what Earth’s field does."
            )
            with box("trio viewing", "fieldset"):
                words("How the scale is seen", "legend")
                for name, label in _FIELDS.items():
                    asked(label, self._written(name), partial(self._changed, name), "labelled")
            hint(
                "Parallax: a scale in front of the trace shows it too small, one behind it too "
                "large; how much depends on the distances. An arm’s length, good to ± 150 mm, is "
                "there until you write yours. Write 0 mm from scale to trace where the trace lies "
                "on the scale, as on a printed screen, or where a mirror behind it keeps the eye "
                "straight in front of each end."
            )
            button("Compute the effects", partial(self._compute, prepared, run))
            self._found = box("effects-found").props('aria-live="polite"')

    def _written(self, name: str) -> str:
        value = exact_text(getattr(self._viewing, name), "mm")
        if name != "distance" or not self._spread:
            return value
        return f"{value.removesuffix(' mm')} ± {exact_text(self._spread, 'mm')}"

    def _changed(self, name: str, text: str) -> None:
        try:
            if name == "distance" and carries_uncertainty(text):
                value, spread = parse_measurement(text, "m")
            else:
                value, spread = read_field(text, "m", "mm"), 0.0
            self._viewing = replace(self._viewing, **{name: value})
        except GlowtraceError as error:
            self._frame.say(f"{_FIELDS[name]}: {error}")
            return
        self._is_preset = False
        if name == "distance":
            self._spread = spread
        self._frame.say("")

    async def _compute(self, prepared: PreparedBench, run: FitRun) -> None:
        self._frame.say("")
        readings, viewing, shown = run.table, self._viewing, self._found
        knobs = knobs_of_readings(prepared, run)
        views = [viewing]
        if viewing.gap > 0 and 0 < self._spread < viewing.distance:
            ends = (viewing.distance + self._spread, viewing.distance - self._spread)
            views += [replace(viewing, distance=each) for each in ends]

        def one(number: int, progress: Progress, cancelled: Cancelled) -> Systematics:
            def note(done: float, said: str) -> None:
                progress((number + done) / len(views), said)

            return systematics(
                prepared,
                readings.method,
                knobs,
                plate_tie=readings.plate_tie,
                viewing=views[number],
                progress=note,
                cancelled=cancelled,
            )

        def work(progress: Progress, cancelled: Cancelled) -> list[Systematics]:
            return [one(n, progress, cancelled) for n in range(len(views))]

        found = await self._frame.compute_long("Computing each effect with and without", work)
        if found is None or shown.is_deleted:
            return
        shown.clear()
        with shown:
            parallax = [_parallax(each) for each in found[1:]]
            put_systematics(found[0], readings.method, parallax, is_preset=self._is_preset)


def _parallax(found: Systematics) -> float:
    return next((each.shift for each in found.effects if each.name == "parallax"), math.nan)


def _knobs_words(run: FitRun) -> str:
    """Say at the knobs of which row the effects are computed."""
    row = _largest_row(run)
    told = [
        f"{column.symbol.replace('_', '')} = "
        f"{value_text(float(run.table.values(column.name)[row]), column.si_unit)}"
        for column in run.table.columns
        if column.name in ("accelerating_voltage", "plate_voltage", "coil_current")
        and math.isfinite(float(run.table.values(column.name)[row]))
    ]
    return f"at the knobs of row {run.table.usable[row] + 1} ({', '.join(told)})"


def usual_viewing(bench: Bench) -> Viewing:
    """Give how a scale is usually seen: outside a bulb, in front of it; else with the trace on it.

    Common practice, no source.
    """
    if bench.plane.glows and isinstance(bench.envelope, Sphere):
        return Viewing(gap=bench.envelope.radius)
    return Viewing()


def knobs_of_readings(prepared: PreparedBench, run: FitRun) -> Knobs:
    """Give the knobs of the usable row in which the read quantity is the largest."""
    readings = run.table
    columns = {column.name: readings.values(column.name) for column in readings.columns}
    row = _largest_row(run)
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


def _largest_row(run: FitRun) -> int:
    """Place among the usable rows of the one in which the read quantity is the largest."""
    readings = run.table
    first = readings.columns[1 if readings.method in ("plates only", "coils only") else 0].name
    return int(np.nanargmax(np.abs(readings.values(first))))
