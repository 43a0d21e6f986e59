"""From lists of readings to e/m in one call, for notebooks and scripts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.arguments import require_kind, require_model
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.measure.experiment import Experiment, Known, experiment
from glowtrace.measure.findings import Findings, constants_data, find
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.budget import Budget
from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.robust import Robust
from glowtrace.measure.methods import Method
from glowtrace.measure.result import Result, measured_specific_charge
from glowtrace.measure.tables.arrays_and_frames import frame_table, given_rows
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Tie, table
from glowtrace.measure.usual_meters import meter_names, usual_knowledge, usual_meter
from glowtrace.shown import Shown, drawing

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class SpecificCharge(Shown):
    """A measured e/m with all that it rests on."""

    setup: Experiment
    fit: Fit

    @cached_property
    def budget(self) -> Budget:
        """What contributes how much to its uncertainty."""
        return fit_budget(self.setup, self.fit)

    @cached_property
    def findings(self) -> Findings:
        """What speaks against it."""
        return find(self.setup, self.fit)

    @property
    def result(self) -> Result:
        """The value beside the accepted one."""
        return measured_specific_charge(self.budget)

    @property
    def value(self) -> float:
        """e/m in C/kg."""
        return self.budget.value

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty in C/kg, as far as what was stated holds."""
        return self.budget.uncertainty

    @property
    def interval(self) -> tuple[float, float] | None:
        """The 95 % interval in C/kg; None where the readings contradict what was stated."""
        return self.budget.interval if self.findings.interval_holds else None

    @property
    def constants(self) -> list[dict[str, Any]]:
        """What was known beforehand and what was fitted, SI, constant by constant."""
        return constants_data(self.fit)

    @property
    def residuals(self) -> Array:
        """Rows (r, c) by conditions, in standard uncertainties; 0 where a row has no condition."""
        return self.fit.fitted[0].residuals

    def plot(self, axes: Any, beside: Any = None) -> None:
        """Draw readings and fit into axes of matplotlib, and the residuals into others."""
        drawing("plot_fit")(self, axes, beside)

    def summary(self) -> str:
        """Tell the result, how it compares, what speaks against it and how well the fit goes."""
        return "\n".join(drawing("fit_sentences")(self))

    def __str__(self) -> str:
        return self.result.text

    def __repr__(self) -> str:
        freedom = f"{self.fit.degrees_of_freedom} degrees of freedom"
        held = "" if self.interval else "; the readings contradict what was stated of them"
        return (
            f"SpecificCharge ({self.setup.model} model): {self.result.text}\n"
            f"  chi-square {self.fit.chi_square:.3g} for {freedom}{held}"
        )


def fit_specific_charge(
    method: Method,
    apparatus: Bench | PreparedBench,
    frame: Any = None,
    *,
    model: Model = "bench",
    instruments: Mapping[str, Instrument] | None = None,
    known: Mapping[str, Known] | None = None,
    robust: Robust = "none",
    plate_tie: Tie = "symmetric",
    runs: Sequence[str] = (),
    **readings: Any,
) -> SpecificCharge:
    """Measure e/m from readings.

    Parameters
    ----------
    method
        "circle", "coils only", "null", "axial focus" or "turn-back".
    apparatus
        The bench; the `bench` model prepares it where it is not yet.
    frame
        A frame of pandas or polars, or a dict of lists, with columns named as in a spreadsheet; see
        `glowtrace.measure.tables.arrays_and_frames.frame_table`.
    model
        "bench" or "ideal".
    instruments, known
        By name, beside and before what is usual (`glowtrace.measure.usual_meters`).
    robust, plate_tie, runs
        As for a fit and a table of readings.
    **readings
        By the name of its column: one cell for each row, or one for all. A cell is a number in SI
        units, text ("52(1) mm"), a quantity of pint, a number of the package uncertainties,
        repeats, a `Reading`, or None.

    Raises
    ------
    GlowtraceError
        If a column is unknown, the columns are not of one length, values are uncertain together, or
        the readings cannot be fitted.

    Examples
    --------
    >>> import glowtrace
    >>> found = fit_specific_charge(
    ...     "circle", glowtrace.ready_made("fine-beam bulb"), accelerating_voltage=[180, 200, 250],
    ...     coil_current=1.5, diameter=["77.4(5) mm", "81.6(5) mm", "91.2(5) mm"], model="ideal",
    ... )
    >>> found.fit.degrees_of_freedom, [line.kind for line in found.budget.lines][:1]
    (2, ['B'])
    """
    require_model(model)
    require_kind(apparatus, Bench, PreparedBench)
    meters = {name: usual_meter(name, method) for name in meter_names(method)}
    meters |= dict(instruments or {})
    if frame is None:
        made = table(method, given_rows(method, readings), meters, plate_tie=plate_tie, runs=runs)
    else:
        read = frame_table(method, frame, readings)
        rows, named = read.rows, tuple(runs) or read.runs
        made = table(method, rows, meters, plate_tie=plate_tie, runs=named)
    bench = apparatus if isinstance(apparatus, Bench) else apparatus.bench
    beforehand = usual_knowledge(bench, made, model=model) | dict(known or {})
    if model == "bench" and isinstance(apparatus, Bench):
        apparatus = prepare(apparatus)
    setup = experiment(apparatus, made, model=model, known=beforehand)
    return SpecificCharge(*setup.fitted(robust=robust))
