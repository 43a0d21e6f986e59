"""Tables of readings: what was read, how well, and what cannot be used with the reason why."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.methods import READ_OFF, Column, Method, column_of, columns_of
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.units import exact_text

Array = NDArray[np.float64]
Tie = Literal["symmetric", "lower at anode", "upper at anode"]

_EXACT = Instrument()


@dataclass(frozen=True)
class Reading:
    """One cell: a value, or the reason why there is none that can be used."""

    value: float | None = None
    """Mean in the SI unit; kept as well where it is impossible, with `fault` saying why."""
    uncertainty: float | None = None
    """Standard uncertainty that was written beside it; None leaves it to the instrument."""
    repeats: tuple[float, ...] = ()
    """The single readings, where there are two or more."""
    fault: str = ""
    """Why it cannot be used; empty where it can."""
    given: str = ""
    """The text of the cell, where it could not be read."""
    written: str = field(default="", compare=False)
    """The text of the cell, where it was read in the unit of its column."""

    @property
    def scatter(self) -> float:
        """Standard uncertainty of the mean of the repeats, s / sqrt(n); zero without repeats."""
        if len(self.repeats) < 2:
            return 0.0
        return float(np.std(self.repeats, ddof=1)) / math.sqrt(len(self.repeats))

    @property
    def degrees_of_freedom(self) -> float:
        """Behind `scatter`: n - 1, or infinite without repeats."""
        return len(self.repeats) - 1.0 if len(self.repeats) > 1 else math.inf


def reading(value: float | Iterable[float] | None, uncertainty: float | None = None) -> Reading:
    """Give a cell from one SI value, several repeats of it, or None for nothing read."""
    if value is None:
        return Reading()
    if isinstance(value, int | float):
        return Reading(float(value), uncertainty)
    repeats = tuple(float(each) for each in value)
    if not repeats:
        return Reading()
    mean = math.fsum(repeats) / len(repeats) if all(map(math.isfinite, repeats)) else math.nan
    return Reading(mean, uncertainty, repeats if len(repeats) > 1 else ())


Row = Mapping[str, Reading]
"""One row: cells by the name of their column."""


@dataclass(frozen=True)
class Table:
    """Readings of one method, with the instruments they were made with.

    Make one with `table`: it marks what is missing or impossible.
    """

    method: Method
    rows: tuple[Row, ...]
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    """By the meter's name ("ruler") or the column's; a quantity without one is read exactly."""
    plate_tie: Tie = "symmetric"
    """How the plates stood against the anode."""
    is_invented: bool = False
    """Whether these are made up for demonstration."""
    note: str = ""
    runs: tuple[str, ...] = ()
    """Run or observer of each row, where there are several."""

    @property
    def columns(self) -> tuple[Column, ...]:
        """The columns of the method."""
        return columns_of(self.method)

    def column(self, name: str) -> Column:
        """Give one of the columns by its name; a GlowtraceError if there is none."""
        return column_of(self.method, name)

    def fault(self, row: int) -> str:
        """Say why a row cannot be used; empty where it can."""
        return next(self._faults(row), "")

    def _faults(self, row: int) -> Iterator[str]:
        cells = self.rows[row]
        for column in self.columns:
            cell = cells[column.name]
            if cell.fault and (column.is_needed or cell.value is not None or cell.given):
                yield f"{column.symbol}: {cell.fault}"

    def marked(self, row: int, reason: str) -> Table:
        """Give the table with a row marked as one that cannot be used."""
        name = READ_OFF[self.method]
        cells = {**self.rows[row], name: replace(self.rows[row][name], fault=reason)}
        return replace(self, rows=(*self.rows[:row], cells, *self.rows[row + 1 :]))

    @property
    def usable(self) -> tuple[int, ...]:
        """Positions of the rows that can be used."""
        return tuple(n for n in range(len(self.rows)) if not self.fault(n))

    @property
    def faults(self) -> dict[int, str]:
        """The rows that cannot be used, by position, with the reason."""
        return {n: self.fault(n) for n in range(len(self.rows)) if self.fault(n)}

    def instrument(self, name: str) -> Instrument:
        """Give the instrument of a column; an exact one where none is named."""
        column = column_of(self.method, name)
        shared = self.instruments.get(column.meter or name, _EXACT)
        return self.instruments.get(name, shared)

    @property
    def is_uncertain(self) -> bool:
        """Whether any reading that can be used has an uncertainty of its own."""
        return any(bool(np.any(self.uncertainties(each.name) > 0)) for each in self.columns)

    def values(self, name: str) -> Array:
        """Values in SI of a column in the usable rows (r,); NaN where a cell is empty."""
        default = column_of(self.method, name).default
        empty = math.nan if default is None else default
        cells = (self.rows[n][name].value for n in self.usable)
        return np.array([empty if value is None else value for value in cells], dtype=float)

    def uncertainties(self, name: str) -> Array:
        """Standard uncertainties in SI (r,) of what is new with every reading of a column.

        What is written in the cell counts alone. Else the scatter of repeats is combined with the
        rounding and the judging of the instrument; repeats contain the judging already.
        """
        instrument = self.instrument(name)

        def uncertainty(cell: Reading) -> float:
            if cell.uncertainty is not None:
                return cell.uncertainty
            judged = 0.0 if cell.repeats else instrument.judgement
            return math.hypot(cell.scatter, judged, instrument.rounding_uncertainty)

        return np.array([uncertainty(self.rows[n][name]) for n in self.usable], dtype=float)

    def degrees_of_freedom(self, name: str) -> Array:
        """Effective degrees of freedom (r,) behind `uncertainties`, after Welch-Satterthwaite."""
        whole = self.uncertainties(name)
        cells = [self.rows[n][name] for n in self.usable]
        freedom = [
            cell.degrees_of_freedom * (total / cell.scatter) ** 4
            if cell.scatter > 0 and cell.uncertainty is None
            else math.inf
            for cell, total in zip(cells, whole, strict=True)
        ]
        return np.array(freedom, dtype=float)


def table(
    method: Method,
    rows: Iterable[Mapping[str, Reading | float | Iterable[float] | None]],
    instruments: Mapping[str, Instrument] | None = None,
    *,
    plate_tie: Tie = "symmetric",
    is_invented: bool = False,
    note: str = "",
    runs: Sequence[str] = (),
) -> Table:
    """Give a table of readings with everything marked that is missing or impossible.

    Parameters
    ----------
    method
        One of `COLUMNS`.
    rows
        Cells by the name of their column: a `Reading`, an SI value, several repeats, or None.
    instruments
        See `Table`.
    plate_tie, is_invented, note, runs
        See `Table`.

    Raises
    ------
    GlowtraceError
        If the method, a column or an instrument has an unknown name.
    """
    columns = columns_of(method)
    known = {column.name for column in columns} | {c.meter for c in columns if c.meter}
    for name in instruments or {}:
        if name not in known:
            allowed = f'"{method}" has instruments for {", ".join(sorted(known))}'
            raise GlowtraceError(f"instrument: {name!r} is not allowed; {allowed}")
    for column in columns:
        name = column.meter or column.name
        made = (instruments or {}).get(name, _EXACT)
        if max(made.resolution, made.judgement, made.zero_limit) > column.high:
            most = exact_text(column.high, column.unit)
            given = "more than any reading as a step, judgement or limit"
            raise GlowtraceError(Problem(f"instrument {name}", given, f"give up to {most}"))
    return Table(
        method,
        tuple(_checked_row(method, row) for row in rows),
        dict(instruments or {}),
        plate_tie,
        is_invented,
        note,
        tuple(runs),
    )


def _checked_row(
    method: Method, row: Mapping[str, Reading | float | Iterable[float] | None]
) -> Row:
    for name in row:
        column_of(method, name)
    cells = {}
    for column in columns_of(method):
        given = row.get(column.name)
        cell = given if isinstance(given, Reading) else reading(given)
        cells[column.name] = replace(cell, fault=cell.fault or _fault(column, cell))
    if method == "null" and _add_up(cells):
        cell = cells["plate_voltage"]
        cells["plate_voltage"] = replace(cell, fault=cell.fault or _SAME_SIGN)
    return cells


_SAME_SIGN = (
    "of one sign with I, with which plates and coils push to the same side: at a null one of them "
    "is negative (V_p > 0 and I > 0 both push upwards)"
)


def _add_up(cells: Row) -> bool:
    """Say whether plates and coils push the beam to the same side."""
    values = (cells["plate_voltage"].value, cells["coil_current"].value)
    return all(each is not None and each > 0 for each in values) or all(
        each is not None and each < 0 for each in values
    )


def _fault(column: Column, cell: Reading) -> str:
    """Say what is wrong with a cell, if anything."""
    if cell.value is None:
        return "missing" if column.is_needed else ""
    values = (*cell.repeats, cell.value)
    if not all(map(math.isfinite, values)):
        return "not a number"
    if any(not column.low <= value <= column.high for value in values):
        allowed = f"{exact_text(column.low, column.unit)} to {exact_text(column.high, column.unit)}"
        return f"impossible: allowed is {allowed}"
    if column.name == "turns" and cell.value != round(cell.value):
        return "impossible: give whole turns"
    if cell.uncertainty is not None and not 0 <= cell.uncertainty <= column.high:
        return f"impossible: an uncertainty is 0 to {exact_text(column.high, column.unit)}"
    return ""
