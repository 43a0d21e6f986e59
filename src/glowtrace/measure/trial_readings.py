"""Readings that a given tube would show: for trying out a plan, and for tests of the fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.experiment import Experiment
from glowtrace.measure.fits.conditions import Series
from glowtrace.measure.fits.parameters import Parameter, index_of
from glowtrace.measure.fits.prior import drawn_together
from glowtrace.measure.methods import READ_OFF
from glowtrace.measure.shared_errors import settings_of
from glowtrace.measure.tables.readings import Reading, Table

Array = NDArray[np.float64]

_REACH = 0.3
"""How far around a guess, as a part of it, the true reading is looked for; then 3 times as far."""


def exact_readings(
    setup: Experiment, truth: Mapping[str, float] | None = None
) -> tuple[Table, ...]:
    """Give the tables with what can be read made exactly true.

    In each row y, the plate voltage of a null, the diameter, the current that focuses, or the depth
    (with the pitch) is replaced by what the model shows for the other readings.

    Parameters
    ----------
    setup
        The experiment; its rows hold the knobs, and a guess within about 30 % of what is read.
    truth
        True values of constants and meters by name; what is known beforehand for the others.

    Raises
    ------
    GlowtraceError
        If a name is unknown, or there is no true reading near the guess.
    """
    theta = np.array([each.value for each in setup.parameters])
    for name, value in (truth or {}).items():
        theta[index_of(setup.parameters, name)] = value
    series = iter(setup.series)
    return tuple(
        _made_true(each, next(series), theta) if each.usable else each for each in setup.tables
    )


def noisy_readings(setup: Experiment, tables: tuple[Table, ...], seed: int) -> Experiment:
    """Give the experiment with tables that have a normal error on every reading.

    Points of one trace get one error of each knob, and a photograph one of its map. Gains and
    zeros of meters are not drawn here: they belong into the truth of `exact_readings`.
    """
    generator = np.random.default_rng(seed)
    own = tuple(_disturbed(each, generator) for each in tables)
    series = iter(setup.series)
    return setup.with_tables(
        tuple(
            _disturbed_together(each, next(series), setup.parameters, generator)
            if each.usable
            else each
            for each in own
        )
    )


def drawn_truth(setup: Experiment, seed: int, **fixed: float) -> dict[str, float]:
    """Draw a true value for everything known beforehand, each from its own distribution.

    Errors that belong to readings are drawn by `noisy_readings`.
    """
    generator = np.random.default_rng(seed)
    drawn = [not (each.is_free or each.is_exact or each.part_of) for each in setup.parameters]
    alone = [
        each.draw(generator) if n else 0.0 for each, n in zip(setup.parameters, drawn, strict=True)
    ]
    away = drawn_together(setup.correlation, np.array(alone)).tolist()
    truth = {
        each.name: each.value + each.spread * draw
        for each, draw, n in zip(setup.parameters, away, drawn, strict=True)
        if n
    }
    return truth | fixed


def _made_true(readings: Table, series: Series, theta: Array) -> Table:
    wanted = [READ_OFF[readings.method]]
    if readings.method == "turn-back":
        wanted.append("pitch")
    values = series.readings.copy()
    for c, name in enumerate(wanted):
        column = series.names.index(name)
        for row in range(len(values)):
            if np.isfinite(values[row, column]):
                values[row, column] = _root(series, theta, values, row, column, c)
    cells = list(readings.rows)
    for row, position in enumerate(readings.usable):
        changed = dict(cells[position])
        for name in wanted:
            if changed[name].value is not None or readings.column(name).default is not None:
                true = float(values[row, series.names.index(name)])
                changed[name] = replace(changed[name], value=true, repeats=())
        cells[position] = changed
    return replace(readings, rows=tuple(cells))


def _root(
    series: Series, theta: Array, values: Array, row: int, column: int, condition: int
) -> float:
    """Find the reading that fulfils a condition, near the one that stands there."""
    guess = values[row, column]
    room = _REACH * abs(guess) or 0.02

    def misfit(value: float) -> float:
        tried = values[row : row + 1].copy()
        tried[0, column] = value
        return float(series.conditions(theta, tried)[0, condition])

    for width in (0.1 * room, room, 3 * room):
        ends = (guess - width, guess + width)
        if misfit(ends[0]) * misfit(ends[1]) < 0:
            return float(optimize.brentq(misfit, *ends, xtol=1e-15, rtol=1e-13))
    given = f"{series.names[column]} near {guess:g}"
    allowed = "give knobs and a guess for which the model has such a reading"
    raise GlowtraceError(Problem(f"{series.label}, row {row + 1}", given, allowed))


def _disturbed(readings: Table, generator: np.random.Generator) -> Table:
    cells = [dict(row) for row in readings.rows]
    for column in readings.columns:
        if column.name == "turns":
            continue
        sizes = readings.uncertainties(column.name)
        if column.meter != "ruler":
            for rows in settings_of(readings):
                sizes[rows] = 0.0
        for position, size in zip(readings.usable, sizes, strict=True):
            cell = cells[position][column.name]
            error = float(size * generator.normal())
            if cell.value is not None:
                cells[position][column.name] = replace(cell, value=cell.value + error)
            elif column.default is not None:
                cells[position][column.name] = Reading(column.default + error)
    return replace(readings, rows=tuple(cells))


def _disturbed_together(
    readings: Table,
    series: Series,
    parameters: Sequence[Parameter],
    generator: np.random.Generator,
) -> Table:
    """Add one drawn error for everything that the rows share."""
    total = np.zeros_like(series.readings)
    for position, offset in series.offsets.items():
        parameter = parameters[position]
        total += parameter.spread * parameter.draw(generator) * offset
    cells = [dict(row) for row in readings.rows]
    for position, errors in zip(readings.usable, total, strict=True):
        for name, error in zip(series.names, errors.tolist(), strict=True):
            cell = cells[position][name]
            if error and cell.value is not None:
                cells[position][name] = replace(cell, value=cell.value + error)
    return replace(readings, rows=tuple(cells))
