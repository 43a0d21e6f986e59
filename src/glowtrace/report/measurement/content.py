"""What a measurement report tells, every number as text."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from glowtrace.measure.experiment import Experiment
from glowtrace.measure.findings import Findings, find
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.budget import Budget, Contribution
from glowtrace.measure.fits.fitted import Fit, FittedSeries
from glowtrace.measure.fits.intervals import interval
from glowtrace.measure.fits.parameters import Parameter
from glowtrace.measure.fits.separability import separability
from glowtrace.measure.methods import Column
from glowtrace.measure.result import measured_specific_charge
from glowtrace.measure.tables.readings import Reading, Table
from glowtrace.report.measurement.chart import chart_svg, chart_words
from glowtrace.report.measurement.fit_words import (
    agreement_sentence,
    chi_square_sentence,
    finding_sentences,
    result_sentence,
    separability_sentences,
    verdict_sentence,
)
from glowtrace.report.measurement.words import (
    measurement_text,
    meter_words,
    quantity_text,
    typeset,
)
from glowtrace.units import fixed, format_measurement
from glowtrace.watching import Cancelled, Progress, Watch
from glowtrace.words.bench import model_told

SPECIFIC_CHARGE = "specific_charge"


@dataclass(frozen=True)
class PrintedTable:
    """A table of readings: its heads, its rows as text, meters, and its chart as SVG."""

    method: str
    note: str
    is_invented: bool
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    meters: tuple[str, ...]
    chart: str
    """Empty where no row can be used."""
    chart_words: str


@dataclass(frozen=True)
class PrintedBudget:
    """An uncertainty budget with its lines as text."""

    name: str
    result: str
    lines: tuple[tuple[str, ...], ...]
    summary: str


@dataclass(frozen=True)
class MeasurementReport:
    """The content of a measurement report.

    Attributes
    ----------
    title, bench, is_invented
        What was measured, on which bench, and whether bench or readings are made up.
    conclusion
        What comes of it, in sentences; the result first.
    method
        How the fit was made, in sentences.
    tables, parameters, budgets
        The readings, everything fitted or known beforehand (name, beforehand, fitted, interval),
        and a budget for each free parameter.
    exact
        Titles of what was taken as exact.
    """

    title: str
    bench: str
    is_invented: bool
    conclusion: tuple[str, ...]
    method: tuple[str, ...]
    tables: tuple[PrintedTable, ...]
    parameters: tuple[tuple[str, str, str, str], ...]
    budgets: tuple[PrintedBudget, ...]
    exact: tuple[str, ...]


def build_measurement_report(
    setup: Experiment,
    fit: Fit,
    *,
    findings: Findings | None = None,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> MeasurementReport:
    """Gather what a measurement report tells.

    Parameters
    ----------
    setup, fit
        The experiment and its fit.
    findings
        What speaks against the fit; looked for where left out.
    progress, cancelled
        Told how far the intervals are, and asked whether to give up.

    Raises
    ------
    GivenUpError
        It was cancelled.
    GlowtraceError
        The budget of a fitted parameter cannot be made.
    """
    budgets = tuple(fit_budget(setup, fit, each.name) for each in fit.parameters if each.is_free)
    named = [each.title for each in fit.parameters if each.is_free]
    found = findings or find(setup, fit, cancelled=cancelled)
    used = iter(zip(fit.series, fit.fitted, strict=True))
    tables = []
    for readings in setup.tables:
        series, fitted = next(used) if readings.usable else (None, None)
        chart = chart_svg(readings, series, fitted) if series and fitted else ""
        tables.append(_printed_table(readings, fitted, chart))
    return MeasurementReport(
        title=f"Measurement: {', '.join(named) or 'check of the constants'}",
        bench=setup.bench.name,
        is_invented=setup.bench.invented or any(each.is_invented for each in setup.tables),
        conclusion=tuple(map(typeset, _conclusion(setup, fit, budgets, found))),
        method=tuple(map(typeset, _method(setup, fit))),
        tables=tuple(tables),
        parameters=tuple(_parameter_rows(fit, found.interval_holds, Watch(progress, cancelled))),
        budgets=tuple(_printed_budget(each, found.interval_holds) for each in budgets),
        exact=setup.taken_as_exact,
    )


def _conclusion(
    setup: Experiment, fit: Fit, budgets: tuple[Budget, ...], findings: Findings
) -> Iterator[str]:
    free = [each for each in fit.parameters if each.is_free]
    for parameter, budget in zip(free, budgets, strict=True):
        if parameter.name == SPECIFIC_CHARGE and budget.uncertainty > 0:
            result = measured_specific_charge(budget)
            yield result_sentence(result, findings)
            yield f"{agreement_sentence(result, findings)} CODATA: {result.reference:.6g} C/kg."
        else:
            yield f"{parameter.title} = {_result_text(budget)}."
    if free:
        columns = [column for each in setup.tables for column in each.columns]
        yield from finding_sentences(fit, findings, free[0].name, columns)
    yield f"{verdict_sentence(fit)} {chi_square_sentence(fit)}"


def _method(setup: Experiment, fit: Fit) -> Iterator[str]:
    yield f"Model: {setup.model}, {model_told(setup.model)}."
    kind = "an ordinary fit" if fit.robust == "none" else f"a robust fit ({fit.robust})"
    yield (
        f"Made by {kind} with the uncertainties of every reading; what was known beforehand and "
        "the common errors of the meters take part."
    )
    yield from separability_sentences(separability(fit))


def _printed_table(readings: Table, fitted: FittedSeries | None, chart: str) -> PrintedTable:
    columns = readings.columns
    rows = []
    used = {position: n for n, position in enumerate(readings.usable)}
    uncertainties = {column.name: readings.uncertainties(column.name) for column in columns}
    for position, row in enumerate(readings.rows):
        n = used.get(position)
        cells = [
            _cell(column, row[column.name], None if n is None else uncertainties[column.name][n])
            for column in columns
        ]
        rows.append(
            (str(position + 1), *map(typeset, cells), *_judged(readings, position, n, fitted))
        )
    return PrintedTable(
        method=readings.method,
        note=readings.note,
        is_invented=readings.is_invented,
        heads=("row", *(typeset(column.symbol) for column in columns), "residual", "remark"),
        rows=tuple(rows),
        meters=meter_words(readings),
        chart=chart,
        chart_words=chart_words(readings) if chart else "",
    )


def _judged(
    readings: Table, position: int, used: int | None, fitted: FittedSeries | None
) -> tuple[str, str]:
    """Give residual and remark of a row."""
    if used is None or fitted is None:
        return "–", f"not used; {readings.fault(position)}"
    shown = fitted.residuals[used][fitted.is_present[used]]
    remarks = ["outlier"] if used in fitted.outliers else []
    if fitted.weights[used] < 1.0:
        remarks.append(f"weight {fitted.weights[used]:.2g}")
    return ", ".join(fixed(value, 2, signed=True) for value in shown), "; ".join(remarks)


def _cell(column: Column, cell: Reading, uncertainty: float | None) -> str:
    if cell.value is None:
        return cell.given or "–"
    if column.si_unit == "1":
        words = f"{cell.value:g}"
    elif not uncertainty:
        words = quantity_text(cell.value, column.unit)
    else:
        words = format_measurement(cell.value, uncertainty, column.unit)
    return f"{words} (n = {len(cell.repeats)})" if cell.repeats else words


def _parameter_rows(fit: Fit, holds: bool, watch: Watch) -> Iterator[tuple[str, str, str, str]]:
    told = [each for each in fit.parameters if not (each.is_exact or each.part_of)]
    for n, parameter in enumerate(told):
        shown = "none: see the conclusion"
        if holds:
            watch.note(n / len(told), f"interval of {parameter.title}")
            found = interval(fit, parameter.name, cancelled=watch.cancelled)
            low, high = (quantity_text(end, parameter.unit) for end in (found.low, found.high))
            note = f"; {found.note}" if found.note else ""
            shown = f"{low} to {high} ({100 * found.level:.0f} %, {found.how}{note})"
        fitted = measurement_text(
            fit.value(parameter.name), fit.uncertainty(parameter.name), parameter.unit
        )
        yield (
            parameter.title,
            typeset(_beforehand(parameter)),
            typeset(fitted),
            typeset(shown),
        )


def _beforehand(parameter: Parameter) -> str:
    if parameter.is_free:
        return "nothing"
    return measurement_text(parameter.value, parameter.spread, parameter.unit)


def _printed_budget(budget: Budget, holds: bool) -> PrintedBudget:
    lines = tuple(
        (
            typeset(line.name),
            typeset(quantity_text(line.value, line.unit)),
            _size(line),
            line.kind,
            line.distribution,
            "∞" if math.isinf(line.degrees_of_freedom) else f"{line.degrees_of_freedom:.0f}",
            typeset(quantity_text(line.contribution, budget.unit, 2)),
            f"{100 * line.share:.1f} %",
        )
        for line in budget.lines
    )
    freedom = budget.degrees_of_freedom
    summary = (
        f"Combined standard uncertainty {quantity_text(budget.uncertainty, budget.unit, 2)}, "
        f"{'∞' if math.isinf(freedom) else f'{freedom:.0f}'} effective degrees of freedom"
    )
    if holds:
        summary += (
            f", k = {budget.coverage_factor:.2f}, expanded uncertainty "
            f"{quantity_text(budget.expanded, budget.unit, 2)} ({100 * budget.level:.0f} %)"
        )
    summary += "." if holds else "; what was stated does not hold: see the conclusion."
    return PrintedBudget(budget.name, typeset(_result_text(budget)), lines, typeset(summary))


def _size(line: Contribution) -> str:
    """Write a standard uncertainty; that of a gain in percent, as meters have it."""
    if line.is_gain:
        return f"{100 * line.uncertainty:.2g} %"
    return typeset(quantity_text(line.uncertainty, line.unit, 2))


def _result_text(budget: Budget) -> str:
    return measurement_text(budget.value, budget.uncertainty, budget.unit)
