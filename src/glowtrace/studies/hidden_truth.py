"""A measurement on benches that nobody knows, and whether its interval holds the truth.

Readings are made on the hidden bench of a row, and fitted as somebody would who has its description
alone. e/m is the truth that is held against the interval.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.wrong_fields import unknown_name
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.experiment import experiment, relevant_constants
from glowtrace.measure.invented import invented_readings
from glowtrace.measure.known_bench import ASIDE
from glowtrace.measure.methods import COLUMNS, Method
from glowtrace.measure.specific_charge import SpecificCharge
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.usual_meters import meter_names, usual_knowledge, usual_meter
from glowtrace.studies.proportion import wilson
from glowtrace.sweeps.row import Row

METHODS: Final = tuple(each for each in COLUMNS if each != "plates only")
"""The ways to measure e/m: of the plates alone it cancels."""
VALUE: Final = "specific_charge_c_per_kg"
UNCERTAINTY: Final = "uncertainty_c_per_kg"
HALF_WIDTH: Final = "half_width_c_per_kg"
HOLDS: Final = "holds"
NO_INTERVAL: Final = "readings contradict what is stated"
TEMPLATE: Final[Row] = {
    VALUE: math.nan, UNCERTAINTY: math.nan, HALF_WIDTH: math.nan, HOLDS: False, "kind": "",
    "is_within_ratings": True,
}  # fmt: skip


class NotMeasuredError(GlowtraceError):
    """A bench on which there is nothing to read, or no fit."""


@dataclass(frozen=True)
class Measurement:
    """How e/m is measured on each bench.

    Attributes
    ----------
    method
        One of `METHODS`.
    instruments
        By name, instead of the usual ones; their errors are drawn anew for each row.

    Raises
    ------
    GlowtraceError
        There is no such method or instrument.
    """

    method: Method
    instruments: Mapping[str, Instrument] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.method not in METHODS:
            raise GlowtraceError(unknown_name("measurement: method", f"{self.method}", METHODS))
        names = meter_names(self.method)
        for name in self.instruments:
            if name not in names:
                raise GlowtraceError(unknown_name("measurement: instruments", name, names))

    @property
    def meters(self) -> dict[str, Instrument]:
        """All its instruments by name."""
        usual = {name: usual_meter(name, self.method) for name in meter_names(self.method)}
        return usual | dict(self.instruments)

    def record(self) -> dict[str, Any]:
        """Give it as plain data."""
        return {"method": self.method, **{name: asdict(m) for name, m in self.meters.items()}}


class Coverage(NamedTuple):
    """How often a 95 % interval holds the truth."""

    held: int
    stated: int
    """Rows with an interval; others have readings that contradict what is stated of them."""
    low: float
    high: float
    """Between which the share lies with 95 %, see `wilson`."""
    half_width: float
    """Of the interval, its median over the rows; SI."""


def measured(
    measurement: Measurement,
    hidden: PreparedBench,
    slack: Mapping[str, float],
    described: PreparedBench,
    description: Bench,
    model: Model,
    seed: tuple[int, int],
) -> Row:
    """Measure on one bench, and fit with the description of another.

    Parameters
    ----------
    measurement
        How.
    hidden, slack
        The bench that the readings are made on, and what no number of it tells.
    described, description
        The bench that the fit takes it for, and how well that one is known.
    model
        Of the fit: "bench" or "ideal".
    seed
        Of the errors of reading.

    Raises
    ------
    NotMeasuredError
        See there.
    """
    generator = np.random.default_rng([*seed, 1])
    method, meters = measurement.method, measurement.meters
    aside = {
        name: sum(slack.get(each.removeprefix("slack."), 0.0) for each in names)
        for name, names in ASIDE.items()
        if name.startswith("grid")
    }
    constants = relevant_constants([method], model)
    for name, known in usual_knowledge(description).items():  # what no bench tells of a tube
        if name in constants:
            aside[name] = known.uncertainty * float(generator.normal())
    apparatus = described if model == "bench" else described.bench
    try:
        table = invented_readings(hidden, method, meters, seed=(*seed, 2), aside=aside)
        beforehand = usual_knowledge(description, table, model=model)
        setup = experiment(apparatus, table, model=model, known=beforehand)
        found = SpecificCharge(*setup.fitted())
    except GlowtraceError as error:
        raise NotMeasuredError(str(error)) from error
    read: dict[str, float | str | bool] = {VALUE: found.value, UNCERTAINTY: found.uncertainty}
    if found.interval is None:
        return {**TEMPLATE, **read, "kind": NO_INTERVAL}
    low, high = found.interval
    holds = low <= SPECIFIC_CHARGE <= high
    told = "interval holds the truth" if holds else "interval misses the truth"
    return {**TEMPLATE, **read, HALF_WIDTH: 0.5 * (high - low), HOLDS: holds, "kind": told}


def coverage(holds: NDArray[np.bool_], half_widths: NDArray[np.float64]) -> Coverage | None:
    """Sum up rows; those without an interval have no width. None where no row has one."""
    has = np.isfinite(half_widths)
    held, stated = int(holds[has].sum()), int(has.sum())
    if not stated:
        return None
    return Coverage(held, stated, *wilson(held, stated), float(np.median(half_widths[has])))


def require_measurable(names: tuple[str, ...], knobs: Mapping[str, Any]) -> None:
    """Refuse what a measurement sets itself, or has errors of its own for."""
    for name in names:
        if name in knobs:
            wanted = "a measurement sets the knobs itself: name numbers of the bench"
            raise GlowtraceError(Problem(f"vary: {name}", "a knob", wanted))
        if name.endswith("_meter"):
            wanted = "a measurement has meters of its own: tell them in [measurement.instruments]"
            raise GlowtraceError(Problem(f"vary: {name}", "a meter", wanted))
