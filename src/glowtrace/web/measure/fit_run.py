"""One fit with everything that is told about it."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError
from glowtrace.measure.calibration import TubeCalibration, calibrate_tube
from glowtrace.measure.experiment import Experiment, Known, experiment
from glowtrace.measure.findings import SPECIFIC_CHARGE, Findings, find
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.budget import Budget
from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.robust import Robust
from glowtrace.measure.fits.separability import Separability, separability
from glowtrace.measure.result import Result, measured_specific_charge
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.tube import TUBE_PARAMETERS
from glowtrace.watching import Cancelled, GivenUpError, Progress

Array = NDArray[np.float64]

_DIFFERS = 0.25
"""From this part of the half width on, an end of the interval counts as different."""


@dataclass(frozen=True)
class FitRequest:
    """All that a fit rests on, fit to be sent to another process."""

    bench: Bench
    readings: Table
    model: Model
    robust: Robust
    finds_constants: bool
    """Whether the tube's constants are looked for, with e/m as accepted, instead of e/m."""
    known: Mapping[str, Known]
    """What is known beforehand, such as from a calibration."""


@dataclass(frozen=True, eq=False)
class FitRun:
    """A fit, and what comes of it."""

    request: FitRequest
    setup: Experiment
    fit: Fit
    table: Table
    wanted: str
    """Name of the parameter that was looked for."""
    budget: Budget
    result: Result | None
    """Of e/m."""
    calibration: TubeCalibration | None
    """Of a tube's constants."""
    findings: Findings
    """What speaks against the fit."""
    separability: Separability

    @property
    def outliers(self) -> tuple[int, ...]:
        """Rows of the table, from 0, that lie further out than chance explains."""
        return self.findings.rows_out


def run_fit(
    prepared: PreparedBench,
    request: FitRequest,
    *,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> FitRun:
    """Fit a table of readings on the prepared bench of the request.

    Raises
    ------
    GivenUpError
        It was cancelled.
    GlowtraceError
        As for `experiment` and its fit.
    """
    try:
        setup, fit, calibration = _fitted(prepared, request, progress, cancelled)
    except GivenUpError:
        raise
    except GlowtraceError as error:
        free = [name for name, each in request.known.items() if math.isinf(each.uncertainty)]
        if not free:
            raise
        titles = " and ".join(TUBE_PARAMETERS[name][0] for name in free)
        raise GlowtraceError(
            f"{error}. Free is {titles}: these readings may not tell it from what is looked for. "
            "Write what is known of it, with its uncertainty."
        ) from None
    wanted = next(each.name for each in fit.parameters if each.is_free)
    budget = fit_budget(setup, fit, wanted)
    return FitRun(
        request,
        setup,
        fit,
        setup.tables[0],
        wanted,
        budget,
        measured_specific_charge(budget) if wanted == SPECIFIC_CHARGE else None,
        calibration,
        find(setup, fit, cancelled=cancelled),
        separability(fit),
    )


def _fitted(
    prepared: PreparedBench,
    request: FitRequest,
    progress: Progress | None,
    cancelled: Cancelled | None,
) -> tuple[Experiment, Fit, TubeCalibration | None]:
    readings, robust = request.readings, request.robust
    if not request.finds_constants:
        setup = experiment(prepared, readings, model=request.model, known=request.known)
        setup, fit = setup.fitted(robust=robust, progress=progress, cancelled=cancelled)
        return setup, fit, None
    run = calibrate_tube(
        prepared,
        readings,
        model=request.model,
        date=datetime.date.today(),
        known=request.known,
        robust=robust,
        note="from invented readings" if readings.is_invented else "",
        progress=progress,
        cancelled=cancelled,
    )
    return run.experiment, run.fit, run.calibration


@dataclass(frozen=True)
class Check:
    """The linear result beside that of the Monte Carlo method, with the level's intervals."""

    trials: int
    uncertainty: float
    low: float
    high: float
    warning: str


def check_by_trials(run: FitRun, values: Array) -> Check:
    """Compare the linear interval with that of Monte Carlo trials (t,)."""
    budget = run.budget
    tail = (1 - budget.level) / 2
    low, high = (float(each) for each in np.quantile(values, [tail, 1 - tail]))
    ends = budget.interval
    half = max(budget.expanded, 1e-300)
    off = max(abs(low - ends[0]), abs(high - ends[1])) / half
    # By chance an end of so few trials is off by about this part of the half width.
    noise = 3.5 / math.sqrt(len(values))
    warning = ""
    if off > _DIFFERS + noise:
        warning = (
            f"The Monte Carlo interval differs from the linear one by {100 * off:.0f} % of its "
            "half width: rely on the Monte Carlo interval."
        )
    return Check(len(values), float(values.std(ddof=1)), low, high, warning)
