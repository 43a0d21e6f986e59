"""From tables of readings to e/m, or to the constants of the tube."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.arguments import require_kind, require_model
from glowtrace.bench.model import Bench, CoilPair, LongCoil
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.fits.conditions import NoSuchReadingError, Series
from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.fitting import fit
from glowtrace.measure.fits.parameters import Parameter
from glowtrace.measure.fits.prior import are_known
from glowtrace.measure.fits.robust import Robust
from glowtrace.measure.methods import Method, columns_of
from glowtrace.measure.runs import run_labels, spreads_of_runs, wide_spread
from glowtrace.measure.shared_errors import (
    READS_POINTS,
    SharedErrors,
    shared_errors,
    sizes_of_changes,
)
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.textbook_conditions import TEXTBOOK_CONDITIONS
from glowtrace.measure.traced_conditions import TRACED_CONDITIONS
from glowtrace.measure.tracer import Tracer
from glowtrace.measure.tube import (
    TUBE_PARAMETERS,
    Readings,
    Tube,
    nominal_tube,
    tube_from,
)
from glowtrace.watching import Cancelled, Progress

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Known:
    """What is known beforehand about a constant: a value with its standard uncertainty, SI.

    A value of None is what the bench's drawing says; an infinite uncertainty leaves it free.
    """

    value: float | None = None
    uncertainty: float = 0.0
    correlations: tuple[tuple[str, float], ...] = ()
    """Names of other constants, and the correlation coefficients with what is known of them. It
    counts where both constants are known with an uncertainty and name each other."""


FREE = Known(None, math.inf)
"""Nothing is known beforehand."""


@dataclass(frozen=True, eq=False)
class Experiment:
    """Readings set up for a fit: what the conditions are, and what is known beforehand."""

    apparatus: Bench | PreparedBench
    tables: tuple[Table, ...]
    model: Model
    known: Mapping[str, Known]
    """What was said to be known beforehand."""
    series: tuple[Series, ...]
    parameters: tuple[Parameter, ...]
    correlation: Array
    """(p, p) of what is known beforehand about the parameters."""
    run_spreads: tuple[float, ...] = ()
    """How far the runs of each table lie apart, SI, where that is estimated."""

    @property
    def bench(self) -> Bench:
        """The bench that the readings were made on."""
        return self.apparatus if isinstance(self.apparatus, Bench) else self.apparatus.bench

    @property
    def taken_as_exact(self) -> tuple[str, ...]:
        """Titles of the constants that matter here and are taken without any uncertainty."""
        return tuple(each.title for each in self.parameters if each.is_exact)

    def with_tables(self, tables: Sequence[Table]) -> Experiment:
        """Give the same experiment with other readings of the same methods and meters."""
        return experiment(
            self.apparatus,
            tables,
            model=self.model,
            known=self.known,
            run_spreads=self.run_spreads,
        )

    def fit(
        self,
        *,
        robust: Robust = "none",
        progress: Progress | None = None,
        cancelled: Cancelled | None = None,
    ) -> Fit:
        """Fit what is free or uncertain; see `glowtrace.measure.fits.fitting.fit`."""
        return fit(
            self.series, self.parameters, correlation=self.correlation, robust=robust,
            progress=progress, cancelled=cancelled,
        )  # fmt: skip

    def fitted(
        self,
        *,
        robust: Robust = "none",
        progress: Progress | None = None,
        cancelled: Cancelled | None = None,
    ) -> tuple[Experiment, Fit]:
        """Fit, and leave out rows that the model has no reading for, if they are less than half.

        Their faults say why in the tables of the experiment that is given back. Where there are
        several runs or observers, how far they lie apart is estimated and counts in the fit.
        """
        setup = self
        if not self.run_spreads and any(map(run_labels, self.tables)):
            open_runs = replace(self, run_spreads=tuple(map(wide_spread, self.tables)))
            start, done = open_runs.with_tables(self.tables).fitted(
                robust=robust, progress=progress, cancelled=cancelled
            )
            spreads = spreads_of_runs(done, start.tables)
            setup = replace(self, run_spreads=spreads).with_tables(start.tables)
        while True:
            try:
                done = setup.fit(robust=robust, progress=progress, cancelled=cancelled)
            except NoSuchReadingError as error:
                setup = setup._without(error)
                rows = [sum(len(each.usable) for each in one.tables) for one in (self, setup)]
                if 2 * rows[1] <= rows[0]:
                    raise
            else:
                return setup, done

    def _without(self, error: NoSuchReadingError) -> Experiment:
        """Give the experiment with the row of an error marked as one that cannot be used."""
        used = [n for n, each in enumerate(self.tables) if each.usable]
        number = used[next(n for n, each in enumerate(self.series) if each is error.series)]
        tables = list(self.tables)
        readings = tables[number]
        tables[number] = readings.marked(readings.usable[error.row], error.reason)
        return self.with_tables(tables)


def experiment(
    apparatus: Bench | PreparedBench,
    tables: Table | Sequence[Table],
    *,
    model: Model | None = None,
    known: Mapping[str, Known] | None = None,
    run_spreads: Sequence[float] = (),
) -> Experiment:
    """Set up the fit of one or more tables of readings that were made on one bench.

    Parameters
    ----------
    apparatus
        The bench, prepared for the `bench` model.
    tables
        Readings of any methods; they share e/m, the constants of the tube, and equal meters.
    model
        "ideal": closed forms of uniform fields. "bench": electrons traced through the real fields,
        and what holds for a prepared bench where nothing is said.
    known
        What is known beforehand, by the name of the constant (`TUBE_PARAMETERS`). Where nothing is
        said e/m is free, and every other constant is taken from the bench as exact.
    run_spreads
        How far the runs or observers of each table lie apart, SI; `Experiment.fitted` estimates it.

    Raises
    ------
    GlowtraceError
        If there are no readings that can be used, the bench lacks what a method needs, a name is
        unknown, or the `bench` model is asked for without a prepared bench.
    """
    if model is None:
        model = "bench" if isinstance(apparatus, PreparedBench) else "ideal"
    require_model(model)
    require_kind(apparatus, Bench, PreparedBench)
    every = (tables,) if isinstance(tables, Table) else tuple(tables)
    prepared = apparatus if isinstance(apparatus, PreparedBench) else None
    bench = apparatus if isinstance(apparatus, Bench) else apparatus.bench
    if model == "bench" and prepared is None:
        hint = "prepare the bench first (glowtrace.prepare)"
        raise GlowtraceError(Problem("model", '"bench" for a bench as it is', hint=hint))
    for each in every:
        _require_apparatus(bench, each)
    if not every or not any(len(each.usable) for each in every):
        faults = [f"row {n + 1}, {why}" for each in every for n, why in each.faults.items()]
        allowed = faults[0] if faults else "give some rows"
        raise GlowtraceError(Problem("readings", "none of them can be used", hint=allowed))
    earth = prepared.earth if prepared else np.zeros(3)
    nominal = nominal_tube(bench, model, earth=earth.tolist())
    parameters = _tube_parameters(nominal, every, model, {"specific_charge": FREE, **(known or {})})
    names = [each.name for each in parameters]
    shared, added = shared_errors(every, len(names), run_spreads)
    parameters += added
    tracer = Tracer(prepared) if model == "bench" and prepared else None
    series = tuple(
        _series(each, replace(nominal, plate_tie=each.plate_tie), names, errors, tracer)
        for each, errors in zip(every, shared, strict=True)
        if each.usable
    )
    return Experiment(
        apparatus, every, model, dict(known or {}), series, tuple(parameters),
        _correlation(parameters, known or {}), tuple(run_spreads),
    )  # fmt: skip


def _require_apparatus(bench: Bench, readings: Table) -> None:
    wanted = {column.name for column in readings.columns}
    lacking = None
    if "plate_voltage" in wanted and bench.plates is None:
        lacking = "plates"
    elif readings.method == "axial focus" and not isinstance(bench.coils, LongCoil):
        lacking = "a long coil"
    elif (
        readings.method != "axial focus"
        and "coil_current" in wanted
        and not (isinstance(bench.coils, CoilPair) and bench.coils.sense == "aiding")
    ):
        lacking = "a coil pair in the sense aiding"
    if lacking:
        allowed = f"the bench has to have {lacking}"
        raise GlowtraceError(Problem("method", f'"{readings.method}"', allowed))


def _tube_parameters(
    nominal: Tube, tables: Sequence[Table], model: Model, known: Mapping[str, Known]
) -> list[Parameter]:
    """Give the constants that these readings depend on."""
    relevant = relevant_constants([each.method for each in tables], model)
    for name in known:
        if name not in TUBE_PARAMETERS:
            allowed = f"known constants are {', '.join(TUBE_PARAMETERS)}"
            raise GlowtraceError(Problem("constant", f'"{name}"', allowed))
        if name not in relevant:
            allowed = f'these readings in the "{model}" model depend on {", ".join(relevant)}'
            raise GlowtraceError(Problem("constant", f'"{name}"', allowed))
    parameters = []
    for name in relevant:
        title, unit, typical = TUBE_PARAMETERS[name]
        fact = known.get(name, Known())
        value = float(getattr(nominal, name)) if fact.value is None else fact.value
        is_positive = name in ("specific_charge", "plate_gap", "plate_length")
        low = 1e-3 * abs(value) if is_positive else -math.inf
        change = typical or 0.01 * abs(value)
        parameters.append(
            Parameter(name, title, unit, value, fact.uncertainty, low=low, typical=change)
        )
    return parameters


def _correlation(parameters: Sequence[Parameter], known: Mapping[str, Known]) -> Array:
    """Correlation (p, p) of what is known beforehand, where both constants name each other."""
    matrix = np.eye(len(parameters))
    places = {each.name: n for n, each in enumerate(parameters) if each.name in known}
    stated = {(a, b): r for a in places for b, r in known[a].correlations if b in places}
    knows = are_known(parameters)
    for (a, b), r in stated.items():
        if a != b and stated.get((b, a)) == r and knows[places[a]] and knows[places[b]]:
            matrix[places[a], places[b]] = r
    return matrix


def relevant_constants(of: Iterable[Method], model: Model) -> tuple[str, ...]:
    """Give the names of the constants that readings of some methods depend on."""
    methods = set(of)
    columns = {column.name for each in methods for column in columns_of(each)}
    has_points = bool(methods & READS_POINTS)  # a null is not read on the grid
    has_coils = "coil_current" in columns or model == "bench"
    wanted = {
        "specific_charge": True,
        "plate_gap": "plate_voltage" in columns,
        "plate_length": model == "ideal" and bool(methods & {"plates only", "null"}),
        "coil_constant": "coil_current" in columns,
        "grid_tilt": has_points,
        "grid_shift": has_points,
        "focus_shift": "axial focus" in methods,
        "contact_offset": True,
        "plate_offset": "plate_voltage" in columns,
        "current_offset": "coil_current" in columns,
        "earth_x": model == "bench" or "axial focus" in methods,
        "earth_y": model == "bench",
        "earth_z": has_coils and (model == "bench" or methods != {"axial focus"}),
    }
    return tuple(name for name in TUBE_PARAMETERS if wanted[name])


def _series(
    readings: Table,
    nominal: Tube,
    names: Sequence[str],
    errors: SharedErrors,
    tracer: Tracer | None,
) -> Series:
    columns = tuple(column.name for column in readings.columns)
    evaluate: Callable[[Tube, Readings], Array]
    if tracer is None:
        evaluate = TEXTBOOK_CONDITIONS[readings.method]
    else:
        traced = TRACED_CONDITIONS[readings.method]

        def evaluate(tube: Tube, true: Readings) -> Array:
            return traced(tracer, tube, true)

    def conditions(theta: Array, shown: Array) -> Array:
        tube = tube_from(nominal, names, theta[: len(names)])
        return evaluate(tube, errors.meters.true_readings(columns, shown, theta, tube.grid_cosine))

    def meter_shifts(theta: Array, shown: Array) -> dict[int, Array]:
        return errors.meters.shifts(columns, shown, theta)

    def stacked(arrays: Iterable[Array]) -> Array:
        return np.stack(list(arrays), axis=1)

    values = stacked(readings.values(name) for name in columns)
    uncertainties = stacked(readings.uncertainties(name) for name in columns)
    # Turns are counted, and an empty cell has nothing to be uncertain about.
    exact = np.isnan(values) | np.array([name == "turns" for name in columns])
    return Series(
        label=readings.method,
        names=columns,
        readings=values,
        uncertainties=np.where(exact | errors.is_shared, 0.0, uncertainties),
        conditions=conditions,
        offsets=errors.offsets,
        meter_shifts=meter_shifts,
        steps=np.where(exact, 0.0, sizes_of_changes(readings)),
    )


def accepted_specific_charge() -> Known:
    """Give e/m as known: for a fit whose aim are the constants of the tube."""
    return Known(SPECIFIC_CHARGE, 0.0)
