"""Rows that are typed: knobs at moments, captions, chapters, held frames, stills."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

from nicegui.elements.mixins.text_element import TextElement

from glowtrace.errors import GlowtraceError
from glowtrace.report.caption import quantity_words
from glowtrace.web.controls import box, button, complaint, field, words
from glowtrace.web.naming import read_field

Row = Mapping[str, Any]
"""Numbers, texts, and None where nothing stands."""


class Column(NamedTuple):
    """A field of each row."""

    name: str
    label: str
    unit: str = ""
    """Of a number; a text has none."""

    def read(self, text: str) -> float | str | None:
        """Read what was typed; a number that is left out is None."""
        if not self.unit:
            return " ".join(text.split())
        return read_field(text, self.unit, self.unit) if text.strip() else None

    def write(self, value: float | str | None) -> str:
        """Write a value for its field."""
        if isinstance(value, float):
            return f"{value:.2f} s" if self.unit == "s" else quantity_words(value, self.unit)
        return value or ""


class RowList:
    """A list of rows with their fields, each with a button that takes it out.

    Parameters
    ----------
    columns
        Fields of a row.
    on_change
        Called with all rows; a GlowtraceError says what is wrong with them, and they stay typed.
    what
        A row's name, for people who hear the page.
    """

    def __init__(
        self,
        columns: Sequence[Column],
        on_change: Callable[[Sequence[Row]], object],
        what: str,
    ) -> None:
        self._columns, self._on_change, self._what = columns, on_change, what
        self._rows: list[dict[str, Any]] = []
        self._texts: dict[tuple[int, str], str] = {}
        self._box = box("row-list")
        style = " ".join("minmax(0, 1fr)" if each.unit else "minmax(0, 3fr)" for each in columns)
        self._box.style(f"--columns: {style} auto")
        self._complaint: TextElement = complaint()

    def put(self, rows: Sequence[Row]) -> None:
        """Show other rows."""
        self._rows = [dict(row) for row in rows]
        self._box.clear()
        self._complaint.text = ""
        with self._box:
            for each in self._columns if rows else ():
                words(each.label, css="fine")
            if rows:
                words("")
            for number, row in enumerate(self._rows):
                for column in self._columns:
                    field(
                        column.write(row.get(column.name)),
                        partial(self._typed, number, column),
                        label=f"{self._what} {number + 1}: {column.label}",
                    )
                remove = button("×", partial(self._drop, number), "plain")
                remove.props["aria-label"] = f"Take out {self._what} {number + 1}"

    def add(self, row: Row) -> None:
        """Add a row."""
        self._change([*self._rows, dict(row)])

    def _typed(self, number: int, column: Column, text: str) -> None:
        try:
            value = column.read(text)
        except GlowtraceError as error:
            self._complaint.text = str(error)
            return
        rows = [dict(row) for row in self._rows]
        rows[number][column.name] = value
        self._change(rows, is_typed=True)

    def _drop(self, number: int) -> None:
        self._change([row for n, row in enumerate(self._rows) if n != number])

    def _change(self, rows: list[dict[str, Any]], *, is_typed: bool = False) -> None:
        try:
            self._on_change(rows)
        except GlowtraceError as error:
            self._complaint.text = str(error)
            if not is_typed:
                return
        else:
            self._complaint.text = ""
        self._rows = rows
        if not is_typed:
            self.put(rows)
