"""Readings as programs hold them: arrays, columns of frames, values with units and uncertainties.

A value may be a number in SI units, text such as "52(1) mm", a quantity of pint, or a number of the
package uncertainties; frames are anything with named columns (pandas, polars, a dict of lists).
None of these packages is imported here: what a value can do tells what it is.
"""

from __future__ import annotations

import csv
import io
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from numbers import Real
from typing import Any, Final

import numpy as np

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.methods import Column, Method, column_of, columns_of
from glowtrace.measure.tables.heads import units_of
from glowtrace.measure.tables.readings import Reading, Table, reading
from glowtrace.measure.tables.spreadsheet import read_table
from glowtrace.units import (
    DIMENSIONS,
    QuantityError,
    carries_uncertainty,
    exact_text,
    parse_measurement,
)

_STATE_ONCE: Final = (
    "an error that readings share does not average out: state it once, in instruments or known, "
    "and leave it out of the values"
)


def given_rows(method: Method, readings: Mapping[str, Any]) -> list[dict[str, Reading]]:
    """Give the rows of columns of cells, each column by its name: one cell a row, or one for all.

    Raises
    ------
    GlowtraceError
        A column is unknown, a value cannot be read, columns are not of one length, or values are
        uncertain together.
    """
    columns_of(method)
    cells = {name: _cells(column_of(method, name), each) for name, each in readings.items()}
    _require_independent(readings.values())
    lengths = {name: len(each) for name, each in cells.items() if isinstance(each, list)}
    if len(set(lengths.values())) > 1:
        given = ", ".join(f"{name} {count}" for name, count in lengths.items())
        raise GlowtraceError(Problem("readings", given, "give each column as many cells"))
    count = next(iter(lengths.values()), 1)
    for name, each in cells.items():
        if count > 1 and isinstance(each, Reading) and each.uncertainty:
            given = f"one uncertain value for {count} rows"
            raise GlowtraceError(Problem(name, given, _STATE_ONCE))
    return [
        {name: each[n] if isinstance(each, list) else each for name, each in cells.items()}
        for n in range(count)
    ]


def frame_table(method: Method, frame: Any, same: Mapping[str, Any]) -> Table:
    """Read a frame as a table in a file is read: columns are named as there, with their units.

    Parameters
    ----------
    method
        What was measured.
    frame
        Its columns are named "D (mm)" or "Durchmesser in cm" as in a spreadsheet, "diameter_mm", or
        "diameter" for SI units.
    same
        By the name of a column, what is the same in every row.

    Raises
    ------
    GlowtraceError
        It has no named columns, or it is not sure what they hold.
    """
    names = list(getattr(frame, "columns", frame if isinstance(frame, Mapping) else ()))
    if not names or not all(isinstance(name, str) for name in names):
        allowed = "give a frame or a dict of lists, its columns named with their units"
        raise GlowtraceError(Problem("frame", type(frame).__name__, allowed))
    columns = columns_of(method)
    held = [list(frame[name]) for name in names]
    _require_independent(held)
    out = io.StringIO()
    writer = csv.writer(out, delimiter="\t", lineterminator="\n")
    writer.writerow([_head(columns, name) for name in names])
    writer.writerows([_text(cell) for cell in row] for row in zip(*held, strict=True))
    shared = {}
    for name, given in same.items():
        column = column_of(method, name)
        cell = _cell(column, given)
        if cell.uncertainty:
            raise GlowtraceError(Problem(name, "one uncertain value for all rows", _STATE_ONCE))
        shared[name] = "" if cell.value is None else exact_text(cell.value, column.unit)
    return read_table(out.getvalue(), method, same=shared)


def _head(columns: Iterable[Column], name: str) -> str:
    """Give the head under which a spreadsheet would have a column."""
    for column in columns:
        if name == column.name:
            return f"{column.symbol} ({column.si_unit})" if column.si_unit != "1" else column.symbol
        for unit in units_of(column):
            if name.lower() == f"{column.name}_{unit.lower()}":
                return f"{column.symbol} ({unit})"
    return name


def _text(cell: Any) -> str:
    """Write a cell as a spreadsheet has it."""
    if isinstance(cell, str):
        return cell
    if hasattr(cell, "magnitude") and hasattr(cell, "units"):
        value = cell.magnitude
        unit = f" {cell.units:~C}"
    else:
        value, unit = cell, ""
    if _is_uncertain(value):
        return f"{value.nominal_value!r}+/-{value.std_dev!r}{unit}"
    try:
        number = float(value)
    except (TypeError, ValueError):  # None, and what stands for it in frames
        return ""
    return "" if math.isnan(number) else f"{number!r}{unit}"


def _cells(column: Column, given: Any) -> Reading | list[Reading]:
    """Give the cells of a column, or the one for all rows."""
    plain = _in_si(column, given)
    if _is_one(plain):
        return _cell(column, plain)
    if not isinstance(plain, Iterable):
        raise GlowtraceError(Problem(column.name, repr(given), _allowed(column)))
    return [_cell(column, each) for each in plain]


def _cell(column: Column, given: Any) -> Reading:
    value = _in_si(column, given)
    if isinstance(value, Reading):
        return value
    if isinstance(value, str):
        try:
            found = parse_measurement(value, column.si_unit)
        except QuantityError as error:
            raise error.within(column.name) from None
        return Reading(found.value, found.uncertainty if carries_uncertainty(value) else None)
    if _is_uncertain(value):
        return Reading(float(value.nominal_value), float(value.std_dev))
    if _is_one(value):
        return reading(None if value is None else float(value))
    if not isinstance(value, Iterable):
        raise GlowtraceError(Problem(column.name, repr(value), _allowed(column)))
    repeats = [_cell(column, each) for each in value]
    if any(each.uncertainty is not None or each.repeats for each in repeats):
        hint = "repeats speak for themselves: give them without uncertainties"
        raise GlowtraceError(Problem(column.name, "repeats with uncertainties", hint))
    return reading([each.value for each in repeats if each.value is not None])


def _is_uncertain(value: Any) -> bool:
    return hasattr(value, "nominal_value") and hasattr(value, "std_dev")


def _is_one(value: Any) -> bool:
    return (
        value is None
        or isinstance(value, str | Reading | Real)
        or (isinstance(value, np.generic | np.ndarray) and value.ndim == 0)
        or _is_uncertain(value)
    )


def _in_si(column: Column, given: Any) -> Any:
    """Give a quantity as numbers in the SI unit of its column; all else as it is."""
    if not (hasattr(given, "magnitude") and hasattr(given, "to")):
        return given
    try:
        return given.to("" if column.si_unit == "1" else column.si_unit).magnitude
    except Exception:  # each package of units has errors of its own
        raise GlowtraceError(Problem(column.name, f"{given}", _allowed(column))) from None


def _allowed(column: Column) -> str:
    dimension = DIMENSIONS[column.si_unit]
    unit = "" if column.si_unit == "1" else f" in {column.si_unit}, or text as"
    return f'give {dimension.name}{unit} "{dimension.example}"'


def _require_independent(columns: Iterable[Any]) -> None:
    """Refuse uncertain values that share an error: as cells they would count as independent."""
    sources: Counter[Any] = Counter()
    for value in _uncertain_values(columns):
        sources.update(one for one, size in value.error_components().items() if size)
    if any(count > 1 for count in sources.values()):
        given = "values with uncertainties that they share"
        raise GlowtraceError(Problem("readings", given, _STATE_ONCE))


def _uncertain_values(given: Any) -> Iterator[Any]:
    value = getattr(given, "magnitude", given)
    if _is_uncertain(value):
        if hasattr(value, "error_components"):
            yield value
    elif not _is_one(value) and isinstance(value, Iterable):
        for each in value:
            yield from _uncertain_values(each)
