"""Tables of readings as text: from a spreadsheet's clipboard or a CSV file, and back.

Columns are parted by tabs, semicolons or commas, whichever the first line has. The first line may
name them with their units, "V_a (kV)"; without names all columns are expected in their order and
usual units. A cell may hold one value, a value with its uncertainty ("82.0(5)" or "82.0 ± 0.5"),
or repeats with slashes between them ("81.5 / 82.0 / 82.5"). A decimal comma is read where it can
be nothing else. Lines that start with "#" say what the table is; other ones of them are remarks.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Final, get_args

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.methods import COLUMNS, Column, Method, columns_of
from glowtrace.measure.tables.heads import Head, Part, UnsureColumnsError, read_heads
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Reading, Row, Table, Tie, reading, table
from glowtrace.photographs.sway import Coefficients, sway_from_text, sway_text
from glowtrace.units import (
    DIMENSIONS,
    QuantityError,
    carries_uncertainty,
    exact_text,
    parse_measurement,
    parse_quantity,
)

FORMAT: Final = "glowtrace-readings 1"
_LONGEST_TEXT = 1_000_000
_MOST_ROWS = 10_000
_RELATIVE = re.compile(
    r"(?P<value>[^\s()±%]+?)\s*(?P<unit>[^\W\d]+)?\s*"
    r"(?:\(\s*(?:±\s*)?(?P<percent_a>[0-9]*\.?[0-9]+)\s*%\s*\)|(?:±|\+/-)\s*(?P<percent_b>[0-9]*\.?[0-9]+)\s*%)"
)
_DECIMAL_COMMA = re.compile(r"[+-]?(?:0,[0-9]+|[0-9]+,(?:[0-9]{1,2}|[0-9]{4,}))(?![0-9,])")
_DOUBTFUL_COMMA = re.compile(r"(?<![0-9,])[+-]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9,])")
_POINT = re.compile(r"[0-9]\.[0-9]")
_INSTRUMENT_PARTS = ("resolution", "gain_limit", "zero_limit", "judgement")


def read_table(
    text: str,
    method: Method | None = None,
    heads: Sequence[Head] | None = None,
    same: Mapping[str, str] | None = None,
) -> Table:
    r"""Read a table of readings from text.

    What is missing or impossible is marked in the table with the reason; nothing is left out.

    Parameters
    ----------
    text
        Pasted cells or the text of a CSV file.
    method
        What was measured; may be left out where a line "# method: circle" says it.
    heads
        What the columns hold, if somebody has said it.
    same
        Cells that are the same in every row, by the symbol or name of their column; lines such as
        "# L: 70 mm" say it as well.

    Raises
    ------
    UnsureColumnsError
        It is not sure what the columns hold; it has the guess.
    GlowtraceError
        If the text is empty or too long, the method is not known, or the columns do not match.

    Examples
    --------
    >>> found = read_table("D (cm)\tV_a (V)\tI (A)\n8,2\t200\t1,5\n\t250\t1,5", "circle")
    >>> found.rows[0]["diameter"].value, found.faults
    (0.082, {1: 'D: missing'})
    """
    if len(text) > _LONGEST_TEXT:
        given = f"{len(text)} characters"
        raise GlowtraceError(Problem("table", given, f"give at most {_LONGEST_TEXT}"))
    lines = [line for line in text.removeprefix("\ufeff").splitlines() if line.strip()]
    said = _said([line for line in lines if line.startswith("#")])
    cells = _cells([line for line in lines if not line.startswith("#")])
    chosen = method or said.get("method", "")
    columns = columns_of(chosen)
    known: Method = next(name for name in COLUMNS if name == chosen)
    shared = _same(columns, {**said, **(same or {})})
    written = [each for each in columns if each.name not in shared]
    found = read_heads(written, cells)
    body = cells[1:] if found.has_names else cells
    if heads is None and found.doubts:
        raise UnsureColumnsError(found, written, body)
    heads = found.heads if heads is None else heads
    comma_is_decimal = _comma_is_decimal(body)
    rows = [each for line in body for each in _rows(columns, heads, line, comma_is_decimal)]
    runs = tuple(run for run, _ in rows)
    tie = said.get("plate tie", "symmetric")
    ties: dict[str, Tie] = {each: each for each in get_args(Tie)}
    if tie not in ties:
        allowed = "choose " + " or ".join(f'"{each}"' for each in ties)
        raise GlowtraceError(Problem("plate tie", f'"{tie}"', allowed))
    return table(
        known,
        [{**shared, **row} for _, row in rows],
        _instruments(columns, said),
        runs=runs if any(runs) else (),
        plate_tie=ties[tie],
        is_invented=said.get("invented", "") == "yes",
        note=said.get("note", ""),
    )


def write_table(readings: Table, separator: str = "\t") -> str:
    """Write a table as text that `read_table` reads back to the same readings.

    Parameters
    ----------
    readings
        The table.
    separator
        A tab (to paste into a spreadsheet), ";" or ",".

    Raises
    ------
    GlowtraceError
        If the separator is another one.
    """
    if separator not in ("\t", ";", ","):
        raise GlowtraceError(Problem("separator", repr(separator), 'give a tab, ";" or ","'))
    said = {
        "method": readings.method,
        "plate tie": readings.plate_tie,
        **_signs(readings),
        "invented": "yes" if readings.is_invented else "no",
        "note": " ".join(readings.note.split()),
        **_written_instruments(readings),
    }
    out = io.StringIO()
    out.writelines(f"# {name}: {value}\n" for name, value in {"format": FORMAT, **said}.items())
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    has_runs = any(readings.runs)
    runs = ["run"] if has_runs else []
    writer.writerow([*runs, *(column.head for column in readings.columns), "remark"])
    for n, row in enumerate(readings.rows):
        cells = [_written(column, row[column.name]) for column in readings.columns]
        runs = [readings.runs[n]] if has_runs else []
        writer.writerow([*runs, *cells, readings.fault(n)])
    return out.getvalue()


def _same(columns: Sequence[Column], said: Mapping[str, str]) -> dict[str, Reading]:
    """Give the cells that are the same in every row."""
    found = {}
    for column in columns:
        names = {column.symbol.lower(), column.name, column.symbol}
        text = next((said[name] for name in names if said.get(name)), "")
        if text:
            cell = _reading(column, column.unit, text, comma_is_decimal=False)
            if cell.fault:
                raise GlowtraceError(f"{column.symbol} in every row: {cell.fault}")
            found[column.name] = cell
    return found


def _said(lines: Sequence[str]) -> dict[str, str]:
    """Give what the lines with "#" say, by name."""
    pairs = (line.lstrip("# ").partition(":") for line in lines)
    said = {name.strip().lower(): value.strip() for name, colon, value in pairs if colon}
    if said.get("format", FORMAT) != FORMAT:
        given = f'"{said["format"]}"'
        raise GlowtraceError(Problem("format", given, f'this program reads "{FORMAT}"'))
    return said


def _cells(lines: Sequence[str]) -> list[list[str]]:
    if not lines:
        raise GlowtraceError(Problem("table", "an empty text", "give one row a line"))
    if len(lines) > _MOST_ROWS:
        given = f"{len(lines)} rows"
        raise GlowtraceError(Problem("table", given, f"give at most {_MOST_ROWS}"))
    separator = next((each for each in "\t;," if each in lines[0]), "\t")
    return [[cell.strip() for cell in line] for line in csv.reader(lines, delimiter=separator)]


def _comma_is_decimal(body: Sequence[Sequence[str]]) -> bool:
    """Say whether the table has a comma that can only be a decimal one, and no decimal point."""
    cells = [cell for line in body for cell in line]
    return any(map(_DECIMAL_COMMA.search, cells)) and not any(map(_POINT.search, cells))


def _rows(
    columns: Sequence[Column], heads: Sequence[Head], line: Sequence[str], comma_is_decimal: bool
) -> Iterator[tuple[str, Row]]:
    """Give the rows that a line holds, with the run of each: one for each run or observer."""
    run = next((line[n] for n, h in enumerate(heads) if h.part == "run" and n < len(line)), "")
    surplus = [cell for cell in line[len(heads) :] if cell]
    labels = list(dict.fromkeys(each.label for each in heads if each.label)) or [""]
    for label in labels:
        found: dict[str, dict[Part, Reading]] = {}
        for n, head in enumerate(heads):
            if head.column and head.label in ("", label):
                column = next(each for each in columns if each.name == head.column)
                given = line[n] if n < len(line) else ""
                cell = _reading(column, head.unit, given, comma_is_decimal)
                found.setdefault(head.column, {})[head.part] = cell
        cells = {name: _whole(parts) for name, parts in found.items()}
        if len(labels) > 1 and all(
            cells[head.column].value is None and not cells[head.column].given
            for head in heads
            if head.label == label
        ):
            continue  # this observer read nothing here
        if surplus and cells:
            last = next(each.column for each in reversed(heads) if each.column)
            fault = f'the row has more cells than columns: "{surplus[0]}"'
            # Kept so that it reads back as a fault too: which comma was meant is not known.
            cells[last] = Reading(fault=fault, given=" , ".join((line[len(heads) - 1], *surplus)))
        yield " ".join(filter(None, (run, label))), cells


_ENDS: Final[tuple[tuple[Part, Part], ...]] = (("left", "right"), ("left half", "right half"))


def _whole(parts: Mapping[Part, Reading]) -> Reading:
    """Give the whole of a quantity from what was read of it."""
    if "whole" in parts:
        return parts["whole"]
    if "half" in parts:
        half = parts["half"]
        return replace(
            half,
            value=None if half.value is None else 2 * half.value,
            uncertainty=None if half.uncertainty is None else 2 * half.uncertainty,
            repeats=tuple(2 * each for each in half.repeats),
            written="",
        )
    are_radii = "left half" in parts or "right half" in parts
    left, right = (parts.get(each, Reading()) for each in _ENDS[are_radii])
    if left.value is None or right.value is None:
        return replace(left if left.value is None else right, value=None, written="")
    value = abs(left.value + right.value) if are_radii else abs(right.value - left.value)
    sizes = [each for each in (left.uncertainty, right.uncertainty) if each is not None]
    return Reading(value, math.hypot(*sizes) if sizes else None)


def _reading(column: Column, unit: str, given: str, comma_is_decimal: bool) -> Reading:
    """Read one cell; one that cannot be read becomes a fault."""
    if not given or given in "-–—":
        return Reading()
    text = given
    if "," in text:
        if _DOUBTFUL_COMMA.search(text) and not comma_is_decimal:
            fault = "a comma before three figures: write a decimal point or no comma"
            return Reading(fault=fault, given=given)
        text = text.replace(",", ".") if "." not in text else text
    parts = [part.strip() for part in text.split("/")] if "+/-" not in text else [text]
    try:
        measured = [_measured(column, unit, part) for part in parts]
    except QuantityError as error:
        return Reading(fault=f"cannot be read: {error}", given=given)
    if len(measured) > 1:
        return replace(
            reading([value for value, _ in measured]), written=_kept(given, unit, column)
        )
    value, uncertainty = measured[0]
    return Reading(value, uncertainty, written=_kept(given, unit, column))


def _kept(given: str, unit: str, column: Column) -> str:
    """Give the text of a cell as it was written, where it is in the column's own unit."""
    return given if unit == column.unit or column.si_unit == "1" else ""


def _measured(column: Column, unit: str, text: str) -> tuple[float, float | None]:
    if relative := _RELATIVE.fullmatch(text):
        value, _ = _measured(column, unit, f"{relative['value']} {relative['unit'] or ''}".strip())
        percent = float(relative["percent_a"] or relative["percent_b"])
        return value, abs(value) * percent / 100
    has_unit = re.search(r"[^\W\d_](?<![eE])", text) is not None
    whole = text if has_unit or column.si_unit == "1" else f"{text} {unit}"
    value, uncertainty = parse_measurement(whole, column.si_unit)
    return value, uncertainty if carries_uncertainty(whole) else None


def _meter_units(columns: Sequence[Column]) -> dict[str, str]:
    """SI unit of every instrument that may be named, by its own name or that of its column."""
    return {name: c.si_unit for c in columns for name in (c.meter or c.name, c.name)}


def _instruments(columns: Sequence[Column], said: Mapping[str, str]) -> dict[str, Instrument]:
    """Read lines such as "instrument ruler: resolution 1 mm, gain_limit 0.002"."""
    units = _meter_units(columns)
    found = {}
    for head, text in said.items():
        name = head.removeprefix("instrument ")
        if head == name:
            continue
        if name not in units:
            known = ", ".join(sorted(units))
            raise GlowtraceError(Problem("instrument", f'"{name}"', f"known are {known}"))
        parts: dict[str, float] = {}
        sway: tuple[Coefficients, ...] = ()
        for part in filter(None, (each.strip() for each in text.split(","))):
            key, _, value = part.partition(" ")
            if key == "sway":
                sway = sway_from_text(value)
                continue
            if key not in _INSTRUMENT_PARTS:
                allowed = "give " + ", ".join(_INSTRUMENT_PARTS)
                raise GlowtraceError(Problem(head, f'"{part}"', allowed))
            parts[key] = parse_quantity(value, "1" if key == "gain_limit" else units[name])
        found[name] = Instrument(
            parts.get("resolution", 0.0),
            parts.get("gain_limit", 0.0),
            parts.get("zero_limit", 0.0),
            parts.get("judgement", 0.0),
            sway=sway,
        )
    return found


def _signs(readings: Table) -> dict[str, str]:
    """Say which signs plate voltages and coil currents have, where it matters."""
    names = {column.name for column in readings.columns}
    if "plate_voltage" not in names:
        return {}
    both = "V_p > 0 and I > 0 both push the beam upwards"
    at_null = "; at a null one of them is negative" if readings.method == "null" else ""
    return {"signs": f"{both}{at_null}" if "coil_current" in names else "V_p > 0 pushes upwards"}


def _written(column: Column, cell: Reading) -> str:
    if cell.value is None:
        return cell.given
    if (
        cell.written
        and _reading(column, column.unit, cell.written.replace(",", "."), False) == cell
    ):
        return cell.written.replace(",", ".")
    values = cell.repeats or (cell.value,)
    figures = [_figures(value, column) for value in values]
    if cell.uncertainty is not None and len(figures) == 1 and math.isfinite(cell.uncertainty):
        # Without exponents: one behind would count for both numbers when it is read back.
        both = (f"{Decimal(each):f}" for each in (figures[0], _figures(cell.uncertainty, column)))
        return " ± ".join(both)
    return " / ".join(figures)


def _figures(value: float, column: Column) -> str:
    """Write a number in the unit of its column so that it reads back as the same float."""
    if not math.isfinite(value):
        return str(value)
    if column.unit not in DIMENSIONS:
        return exact_text(value, column.unit).removesuffix(column.unit).strip()
    written = Decimal(repr(value))
    if not -7 <= written.adjusted() < 16:
        return str(written)
    figures = f"{written:f}"
    return figures.rstrip("0").rstrip(".") if "." in figures else figures


def _written_instruments(readings: Table) -> dict[str, str]:
    units = _meter_units(readings.columns)

    def parts(name: str, instrument: Instrument) -> Iterator[str]:
        for part in _INSTRUMENT_PARTS:
            value = getattr(instrument, part)
            if value > 0:
                yield f"{part} {exact_text(value, '1' if part == 'gain_limit' else units[name])}"
        if instrument.sway:
            yield f"sway {sway_text(instrument.sway)}"

    return {
        f"instrument {name}": ", ".join(parts(name, instrument))
        for name, instrument in readings.instruments.items()
    }
