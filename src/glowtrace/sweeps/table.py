"""What a sweep found: a table with a row for every point, in SI units."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.shown import Shown
from glowtrace.sweeps.axes import Axis
from glowtrace.sweeps.parquet import parquet_bytes
from glowtrace.sweeps.row import Row

_TOLD = 6
"""Columns that a short form names."""


@dataclass(frozen=True, eq=False, repr=False)
class Sweep(Shown):
    """A table of readings; made by `sweep`.

    ``pandas.DataFrame(made.columns)`` or ``polars.DataFrame(made.columns)`` make a frame.
    """

    bench: Bench
    settings: Settings
    """What stays where it is not turned."""
    model: Model
    at: float
    """Where along the beam heights and widths are read, m."""
    electrons: int
    seed: int
    axes: tuple[Axis, ...]
    columns: dict[str, NDArray[Any]]
    """(p,) each: what was turned, then what was read. Names end in the SI unit; shares are of the
    electrons; NaN where there is nothing to read."""

    def __len__(self) -> int:
        """Give how many points there are."""
        return len(next(iter(self.columns.values())))

    def __getitem__(self, name: str) -> NDArray[Any]:
        """Give a column (p,) by its name; a GlowtraceError names those that there are."""
        if name not in self.columns:
            raise GlowtraceError(
                Problem("column", f'"{name}"', f"choose {', '.join(self.columns)}")
            )
        return self.columns[name]

    def __repr__(self) -> str:
        turned = " x ".join(f"{axis.name} ({len(axis.values)})" for axis in self.axes)
        read = self.read_columns
        told = ", ".join(read[:_TOLD]) + (", ..." if len(read) > _TOLD else "")
        return f'Sweep of "{self.bench.name}" ({self.model} model): {turned}\n  {told}'

    @property
    def shape(self) -> tuple[int, ...]:
        """Points along each axis: ``made["height_m"].reshape(made.shape)`` is the grid."""
        return tuple(len(axis.values) for axis in self.axes)

    @property
    def read_columns(self) -> tuple[str, ...]:
        """Names of what was read."""
        return tuple(self.columns)[len(self.axes) :]

    @property
    def beyond_ratings(self) -> int:
        """How many points a rating of the bench forbids."""
        return int((~self.columns["is_within_ratings"]).sum())

    def rows(self) -> Iterator[dict[str, Any]]:
        """Give the rows as plain values."""
        lists = [column.tolist() for column in self.columns.values()]
        for row in zip(*lists, strict=True):
            yield dict(zip(self.columns, row, strict=True))

    def csv(self) -> str:
        """Give the table as CSV text; a cell without a number is empty."""
        text = io.StringIO()
        writer = csv.DictWriter(text, list(self.columns), lineterminator="\n")
        writer.writeheader()
        for row in self.rows():
            writer.writerow({name: _cell(value) for name, value in row.items()})
        return text.getvalue()

    def parquet(self) -> bytes:
        """Give the table as the content of a Parquet file; needs ``glowtrace[studies]``."""
        return parquet_bytes(self.columns)


def columns_of(axes: Sequence[Axis], points: NDArray[np.float64], rows: Sequence[Row]) -> Any:
    """Give the columns of a table: where each axis stood (p, axes), and what was read."""
    turned = {axis.column: points[:, n] for n, axis in enumerate(axes)}
    return turned | {name: np.array([row[name] for row in rows]) for name in rows[0]}


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return str(value).lower()
    return "" if value != value else value
