"""A measurement as one CSV table, for spreadsheets: all that is needed to redo it.

One line for each thing, in SI units, told apart by the first column: the bench and how the fit was
made, what was known beforehand, each instrument, each cell that was read with what the fit believes
that was there, each row with its residuals, each fitted constant, each line of the budgets.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator
from dataclasses import fields

from glowtrace.bench.files import bench_to_toml
from glowtrace.measure.experiment import Experiment
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.fitted import Fit, FittedSeries
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Table
from glowtrace.photographs.sway import sway_text

COLUMNS = ("kind", "table", "row", "name", "unit", "value", "uncertainty", "fitted", "text")
"""Columns. `uncertainty` is standard; "free" where nothing is known beforehand; `text` holds the
bench's file, repeats, remarks and choices."""

_Line = dict[str, str | int | float]


def measurement_csv(setup: Experiment, fit: Fit) -> str:
    """Give a measurement as CSV text: a line of names, then one line for each thing."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(_lines(setup, fit))
    return text.getvalue()


def _lines(setup: Experiment, fit: Fit) -> Iterator[_Line]:
    yield {"kind": "bench", "name": setup.bench.name, "text": bench_to_toml(setup.bench)}
    yield {"kind": "fit", "name": "model", "text": setup.model}
    yield {"kind": "fit", "name": "robust", "text": fit.robust}
    for name, fact in setup.known.items():
        yield {
            "kind": "known",
            "name": name,
            "value": "" if fact.value is None else fact.value,
            "uncertainty": "free" if math.isinf(fact.uncertainty) else fact.uncertainty,
        }
    used = iter(fit.fitted)
    for number, readings in enumerate(setup.tables, start=1):
        yield from _table_lines(number, readings, next(used) if readings.usable else None)
    yield from _result_lines(setup, fit)


def _table_lines(number: int, readings: Table, fitted: FittedSeries | None) -> Iterator[_Line]:
    here: _Line = {"table": number}
    yield {"kind": "table", **here, "name": "method", "text": readings.method}
    yield {"kind": "table", **here, "name": "plate_tie", "text": readings.plate_tie}
    yield {"kind": "table", **here, "name": "note", "text": readings.note}
    invented = "true" if readings.is_invented else "false"
    yield {"kind": "table", **here, "name": "is_invented", "text": invented}
    for name, made in readings.instruments.items():
        yield from _instrument_lines(here, name, made)
    used = {position: n for n, position in enumerate(readings.usable)}
    for position in range(len(readings.rows)):
        yield from _row_lines(here, readings, position, used.get(position), fitted)


def _instrument_lines(here: _Line, name: str, made: Instrument) -> Iterator[_Line]:
    for each in fields(made):
        value = getattr(made, each.name)
        shown: _Line = {"value": value}
        if each.name in ("name", "sway"):
            shown = {"text": value if each.name == "name" else sway_text(value)}
        yield {"kind": "instrument", **here, "name": f"{name}.{each.name}", **shown}


def _row_lines(
    here: _Line, readings: Table, position: int, used: int | None, fitted: FittedSeries | None
) -> Iterator[_Line]:
    line: _Line = {**here, "row": position + 1}
    for column in readings.columns:
        cell = readings.rows[position][column.name]
        believed: float | str = ""
        if used is not None and fitted is not None:
            believed = float(fitted.adjusted[used, fitted.names.index(column.name)])
        yield {
            "kind": "reading",
            **line,
            "name": column.name,
            "unit": column.si_unit,
            "value": "" if cell.value is None else cell.value,
            "uncertainty": "" if cell.uncertainty is None else cell.uncertainty,
            "fitted": believed if believed == "" or math.isfinite(float(believed)) else "",
            "text": " ".join(map(repr, cell.repeats)) or cell.given,
        }
    if used is None or fitted is None:
        yield {"kind": "fault", **line, "text": readings.fault(position)}
        return
    shown = fitted.residuals[used][fitted.is_present[used]]
    for number, residual in enumerate(shown.tolist(), start=1):
        remark = "outlier" if used in fitted.outliers else ""
        name = f"residual {number}"
        yield {"kind": "residual", **line, "name": name, "value": residual, "text": remark}


def _result_lines(setup: Experiment, fit: Fit) -> Iterator[_Line]:
    for each in fit.parameters:
        yield {
            "kind": "constant",
            "name": each.name,
            "unit": each.unit,
            "value": each.value,
            "uncertainty": fit.uncertainty(each.name),
            "fitted": fit.value(each.name),
            "text": each.title,
        }
    for each in fit.parameters:
        if each.is_free:
            for line in fit_budget(setup, fit, each.name).lines:
                yield {
                    "kind": f"budget of {each.name}",
                    "name": line.name,
                    "unit": line.unit,
                    "value": line.value if math.isfinite(line.value) else "",
                    "uncertainty": line.uncertainty,
                    "fitted": line.contribution,
                    "text": f"kind {line.kind}, {line.distribution}, share {line.share!r}",
                }
    yield {"kind": "fit", "name": "chi_square", "value": fit.chi_square}
    yield {"kind": "fit", "name": "degrees_of_freedom", "value": fit.degrees_of_freedom}
    yield {"kind": "fit", "name": "verdict", "text": str(fit.verdict)}
