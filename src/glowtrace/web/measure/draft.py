"""Readings as they are being written: texts in cells, and the table that they make."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from uncertainties import ufloat  # type: ignore[import-untyped]

from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import Column, Method, columns_of
from glowtrace.measure.tables.heads import UnsureColumnsError
from glowtrace.measure.tables.instrument import Instrument, meter
from glowtrace.measure.tables.readings import Reading, Table, Tie, table
from glowtrace.measure.tables.spreadsheet import read_table, write_table
from glowtrace.measure.usual_meters import meter_names, meter_title, meter_unit, usual_meter
from glowtrace.units import exact_text, parse_quantity

FEWEST_ROWS = 6
"""Rows that an empty table shows."""

_FINEST = 1e-4
"""Smallest uncertainty that is written into a cell, in its column's unit: no meter is finer."""

Texts = tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class MeterText:
    """An instrument as a person writes it."""

    specification: str
    resolution: str
    judgement: str


@dataclass(frozen=True)
class Draft:
    """Readings as they are being written."""

    method: Method
    rows: Texts
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    plate_tie: Tie = "symmetric"
    is_invented: bool = False
    note: str = ""
    has_runs: bool = False
    """Whether the last cell of a row names its run or observer."""

    @property
    def width(self) -> int:
        """Cells of a row."""
        return len(self.columns) + self.has_runs

    def with_runs(self, has_runs: bool) -> Draft:
        """Give the draft with or without the cells for runs."""
        count = len(self.columns)
        more = ("",) if has_runs else ()
        return replace(
            self, has_runs=has_runs, rows=tuple((*row[:count], *more) for row in self.rows)
        )

    @property
    def columns(self) -> tuple[Column, ...]:
        """The columns of the method."""
        return columns_of(self.method)

    @property
    def written(self) -> tuple[int, ...]:
        """Positions of the rows in which anything is written."""
        return tuple(n for n, row in enumerate(self.rows) if any(cell.strip() for cell in row))


@dataclass(frozen=True)
class Mark:
    """What is shown in a cell beside its text."""

    fault: str = ""
    uncertainty: str = ""


def empty_draft(method: Method, tie: Tie = "symmetric") -> Draft:
    """Give a draft without readings, with usual instruments."""
    count = len(columns_of(method))
    usual = {name: usual_meter(name, method) for name in meter_names(method)}
    return Draft(method, (("",) * count,) * FEWEST_ROWS, usual, tie)


def meter_text(instrument: Instrument, name: str) -> MeterText:
    """Write an instrument as a person would."""
    unit = meter_unit(name)
    percent = f"{100 * instrument.gain_limit:.6g} %" if instrument.gain_limit else ""
    digits = ""
    if instrument.zero_limit and instrument.resolution:
        digits = f"{instrument.zero_limit / instrument.resolution:.6g} digits"
    shown = "mm" if unit == "m" else unit
    judged = exact_text(instrument.judgement, shown) if instrument.judgement else ""
    return MeterText(
        " + ".join(filter(None, (percent, digits))),
        exact_text(instrument.resolution, shown),
        judged,
    )


def instrument_from(text: MeterText, name: str) -> Instrument:
    """Read an instrument; a GlowtraceError says what is wrong with it."""
    try:
        return meter(
            text.specification,
            _with_unit(text.resolution, name) or f"0 {meter_unit(name)}",
            meter_unit(name),
            judgement=_with_unit(text.judgement, name),
        )
    except GlowtraceError as error:
        raise error.within(meter_title(name)) from None


def _with_unit(text: str, name: str) -> str:
    written = text.strip().replace(",", ".")
    unit = "mm" if name == "ruler" else meter_unit(name)
    return f"{written} {unit}" if written and not written[-1].isalpha() else written


def table_of(draft: Draft) -> Table:
    """Give the table that a draft makes; its rows are those in which something is written."""
    names = [column.head for column in draft.columns] + ["run"] * draft.has_runs
    heads = "\t".join(names)
    lines = ["\t".join(map(_clean, draft.rows[n])) for n in draft.written]
    read = read_table("\n".join([heads, *lines]), draft.method) if lines else None
    return table(
        draft.method,
        read.rows if read else (),
        draft.instruments,
        plate_tie=draft.plate_tie,
        is_invented=draft.is_invented,
        note=draft.note,
        runs=read.runs if read else (),
    )


def draft_of(readings: Table) -> Draft:
    """Give the draft that writes a table; what it has no instrument for is a usual one's."""
    lines = write_table(replace(readings, instruments={}, runs=())).splitlines()
    rows = [line.split("\t") for line in lines if not line.startswith("#")][1:]
    has_runs = any(readings.runs)
    texts = tuple(
        (
            *(
                readings.rows[n][column.name].written or _short(cell.strip('"'))
                for column, cell in zip(readings.columns, row, strict=False)
            ),
            *([readings.runs[n]] if has_runs else []),
        )
        for n, row in enumerate(rows)
    )
    missing = {
        name: usual_meter(name, readings.method)
        for name in meter_names(readings.method, readings.instruments)
    }
    return Draft(
        readings.method,
        texts,
        {**missing, **readings.instruments},
        readings.plate_tie,
        readings.is_invented,
        readings.note,
        has_runs,
    )


def put_texts(rows: Texts, row: int, column: int, text: str, width: int) -> Texts:
    """Give the rows with copied cells put in from a place on; new rows come as needed.

    Raises
    ------
    GlowtraceError
        There are more cells beside each other than columns from there on; none is dropped unseen.
    """
    grid = [list(each) for each in rows]
    for down, cells in enumerate(_copied_cells(text, width - column)):
        if any(cells[width - column :]):
            raise GlowtraceError(
                f"What was copied is {len(cells)} cells wide, and the table has "
                f"{width - column} columns from here on; copy only those that belong here, or copy "
                "them with their heads."
            )
        while len(grid) <= row + down:
            grid.append([""] * width)
        grid[row + down][column : column + len(cells)] = cells[: width - column]
    return tuple(tuple(each) for each in grid)


def names_columns(text: str) -> bool:
    """Say whether copied text is a whole table: with names of columns, or told by "#" lines."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    named = [each for each in re.split(r"[\t;,]", first) if each.strip()]
    return first.startswith("#") or (
        len(named) > 1 and all(re.match(r'[\s"]*[^\W\d]', each) for each in named)
    )


def is_unsure(text: str, method: Method) -> bool:
    """Say whether copied cells fill all columns, but with numbers of other columns' sizes."""
    try:
        read_table(text, method)
    except UnsureColumnsError as error:
        needed = [column for column in columns_of(method) if column.is_needed]
        return len(error.guess.heads) in (len(needed), len(columns_of(method)))
    except GlowtraceError:
        return False
    return False


def _copied_cells(text: str, width: int) -> list[list[str]]:
    """Part copied text into cells; a comma parts them only where it can be no decimal one."""
    lines = [line for line in text.replace("\r", "").split("\n") if line.strip()]
    separator = next((each for each in "\t;" if any(each in line for line in lines)), "\t")
    counts = {line.count(",") for line in lines}
    if separator == "\t" and len(counts) == 1 and not any("\t" in line for line in lines):
        has_points = any("." in line for line in lines)
        is_table = len(lines) > 1 and counts == {width - 1} and width > 2
        if counts != {0} and (has_points or is_table):
            separator = ","
    return [[cell.strip() for cell in line] for line in csv.reader(lines, delimiter=separator)]


def marks_of(draft: Draft, readings: Table) -> list[list[Mark]]:
    """Give what each cell shows beside its text, for all rows of the draft."""
    marks = [[Mark()] * draft.width for _ in draft.rows]
    sizes = {column.name: iter(readings.uncertainties(column.name)) for column in draft.columns}
    usable = set(readings.usable)
    for n, place in enumerate(draft.written):
        for c, column in enumerate(draft.columns):
            cell = readings.rows[n][column.name]
            size = float(next(sizes[column.name])) if n in usable else 0.0
            is_counted = column.is_needed or cell.value is not None or bool(cell.given)
            marks[place][c] = Mark(cell.fault if is_counted else "", _size_text(column, cell, size))
    return marks


def _size_text(column: Column, cell: Reading, size: float) -> str:
    if cell.value is None or not size > 0 or not math.isfinite(size) or column.si_unit == "1":
        return ""
    return f"± {size / parse_quantity(f'1 {column.unit}', column.si_unit):.2g}"


def _short(cell: str) -> str:
    """Write "11.67873 ± 0.00742" as "11.6787(74)", which fits a cell."""
    if "%" in cell:
        return cell
    value, sign, uncertainty = cell.partition(" ± ")
    if not sign or not float(uncertainty) > 0:
        return cell
    size = float(uncertainty)
    if size < _FINEST:
        return f"{ufloat(float(value), _FINEST):.1uS}"
    return f"{ufloat(float(value), size):.2uS}"


def _clean(cell: str) -> str:
    plain = re.sub(r"\+\s*/?\s*[-−]", " ± ", cell.replace('"', ""))
    return " ".join(plain.split()).lstrip("#").strip()


def rows_from(sent: Sequence[Sequence[object]], width: int) -> Texts:
    """Read the rows that a page sent; each gets as many cells as there are columns."""
    return tuple(tuple(str(cell)[:200] for cell in (*row, *([""] * width))[:width]) for row in sent)
