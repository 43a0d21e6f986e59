"""From lists of readings to e/m in one call, for notebooks and scripts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.experiment import Experiment, Known, experiment
from glowtrace.measure.findings import Findings, constants_data, find
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.budget import Budget
from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.robust import Robust
from glowtrace.measure.methods import Method, column_of, columns_of
from glowtrace.measure.result import Result, measured_specific_charge
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Reading, Tie, table
from glowtrace.measure.usual_meters import meter_names, usual_knowledge, usual_meter

Cells = float | Reading | Iterable[float | Reading | Iterable[float] | None]


@dataclass(frozen=True, eq=False, repr=False)
class SpecificCharge:
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
    *,
    model: Model | None = None,
    instruments: Mapping[str, Instrument] | None = None,
    known: Mapping[str, Known] | None = None,
    robust: Robust = "none",
    plate_tie: Tie = "symmetric",
    runs: Sequence[str] = (),
    **readings: Cells,
) -> SpecificCharge:
    """Measure e/m from readings.

    Parameters
    ----------
    method
        "circle", "coils only", "null", "axial focus" or "turn-back".
    apparatus
        The bench, prepared for the `bench` model.
    model
        "ideal" or "bench"; by default "bench" for a prepared bench.
    instruments, known
        By name, beside and before what is usual (`glowtrace.measure.usual_meters`).
    robust, plate_tie, runs
        As for a fit and a table of readings.
    **readings
        By the name of its column, in SI units: one cell for each row, or one for all. A cell is a
        number, repeats, a `Reading` with its uncertainty, or None.

    Raises
    ------
    GlowtraceError
        If a column is unknown, the columns are not of one length, or the readings cannot be fitted.

    Examples
    --------
    >>> import glowtrace
    >>> found = fit_specific_charge(
    ...     "circle", glowtrace.ready_made("fine-beam bulb"), accelerating_voltage=[180, 200, 250],
    ...     coil_current=1.5, diameter=[0.0774, 0.0816, 0.0912],
    ... )
    >>> found.fit.degrees_of_freedom, [line.kind for line in found.budget.lines][:1]
    (2, ['B'])
    """
    usual = {name: usual_meter(name, method) for name in meter_names(method)}
    made = table(
        method,
        _rows(method, readings),
        {**usual, **(instruments or {})},
        plate_tie=plate_tie,
        runs=runs,
    )
    chosen = model or ("bench" if isinstance(apparatus, PreparedBench) else "ideal")
    bench = apparatus if isinstance(apparatus, Bench) else apparatus.bench
    beforehand = usual_knowledge(bench, made, model=chosen) | dict(known or {})
    setup = experiment(apparatus, made, model=chosen, known=beforehand)
    return SpecificCharge(*setup.fitted(robust=robust))


def _rows(method: Method, readings: Mapping[str, Cells]) -> list[dict[str, Any]]:
    """Give the rows of columns of cells."""
    columns_of(method)
    columns = {}
    for name, cells in readings.items():
        column_of(method, name)
        is_one = isinstance(cells, Reading | int | float)
        columns[name] = cells if is_one else list(cells)  # type: ignore[arg-type]
    lengths = {name: len(cells) for name, cells in columns.items() if isinstance(cells, list)}
    if len(set(lengths.values())) > 1:
        given = ", ".join(f"{name} {count}" for name, count in lengths.items())
        raise GlowtraceError(Problem("readings", given, "give each column as many cells"))
    count = next(iter(lengths.values()), 1)
    return [
        {name: cells[n] if isinstance(cells, list) else cells for name, cells in columns.items()}
        for n in range(count)
    ]
