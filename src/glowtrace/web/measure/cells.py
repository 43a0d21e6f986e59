"""The table of readings on the page."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from html import escape
from typing import Any

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.measure.methods import Column
from glowtrace.units import format_quantity
from glowtrace.web.measure.draft import Mark, Texts


class Cells(ui.element, component="cells.js"):
    """Cells to write readings in.

    Parameters
    ----------
    on_written
        Called with the rows as they are written now.
    on_pasted
        Called with copied text and the row and column that it goes in from.
    """

    def __init__(
        self,
        on_written: Callable[[Sequence[Sequence[object]]], object],
        on_pasted: Callable[[str, int, int], object],
    ) -> None:
        super().__init__()
        self._on_written, self._on_pasted = on_written, on_pasted
        self.on("written", self._written)
        self.on("pasted", self._pasted)

    def set_columns(self, columns: Sequence[Column], *, has_runs: bool = False) -> None:
        """Show other columns."""
        self.props["columns"] = [
            {
                "name": column.name.replace("_", " "),
                "symbol": symbol_html(column.symbol),
                "unit": "" if column.si_unit == "1" else column.unit,
                "placeholder": _placeholder(column),
            }
            for column in columns
        ] + [{"name": "run", "symbol": "run", "unit": "", "placeholder": ""}] * has_runs

    def put(self, rows: Texts, marks: list[list[Mark]]) -> None:
        """Show other texts, with what is to be said about them."""
        self.run_method("put", [list(row) for row in rows], _sent(marks))

    def put_marks(self, marks: list[list[Mark]]) -> None:
        """Say something else about the cells; what is being written stays."""
        self.run_method("mark", _sent(marks))

    def point(self, rows: Sequence[int]) -> None:
        """Point out rows."""
        self.run_method("point", list(rows))

    def add_row(self) -> None:
        """Add an empty row."""
        self.run_method("add")

    def _written(self, event: GenericEventArguments) -> object:
        return self._on_written(event.args)

    def _pasted(self, event: GenericEventArguments) -> object:
        text, row, column = event.args
        return self._on_pasted(str(text), int(row), int(column))


def symbol_html(symbol: str) -> str:
    """Give a symbol with its index lowered, "V_a" as V with a small a."""
    return re.sub(r"_(\w+)", r"<sub>\1</sub>", escape(symbol))


def _placeholder(column: Column) -> str:
    if column.is_needed:
        return ""
    if column.default is None:
        return "–"
    return format_quantity(column.default, column.unit).split()[0]


def _sent(marks: list[list[Mark]]) -> list[list[Any]]:
    return [[[mark.fault, mark.uncertainty] for mark in row] for row in marks]
