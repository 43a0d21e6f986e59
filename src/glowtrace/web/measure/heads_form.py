"""What the columns of a pasted table hold, asked beside the table where it is not sure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from glowtrace.measure.methods import Column
from glowtrace.measure.tables.heads import Head, Heads, Part, units_of
from glowtrace.web.controls import Picker, box, button, hint, words
from glowtrace.web.controls import asked as put_asked

_PARTS: Final[Mapping[Part, str]] = {
    "half": "radius",
    "left": "left end, place on a scale",
    "right": "right end, place on a scale",
    "left half": "left end, from the middle",
    "right half": "right end, from the middle",
}
_RUN, _NOTHING = "run", "nothing"
_SHOWN = 3
"""Cells of a column that are shown."""


@dataclass
class _Asked:
    heads: list[Head]
    same: dict[str, str]


class HeadsForm:
    """A choice for each column of a table: which quantity, which unit.

    Parameters
    ----------
    on_take
        Called with what the columns hold, and with what is the same in every row by the name of
        its column.
    """

    def __init__(self, on_take: Callable[[Sequence[Head], Mapping[str, str]], object]) -> None:
        self._on_take = on_take
        self._box = box("heads-form").props('role="group" aria-label="Columns of the table"')
        self._box.set_visibility(False)

    def clear(self) -> None:
        """Ask nothing any more."""
        self._box.clear()
        self._box.set_visibility(False)

    def ask(self, columns: Sequence[Column], guess: Heads, cells: Sequence[Sequence[str]]) -> None:
        """Ask what the columns hold, with a guess; ``cells`` are the lines below the heads."""
        self._box.clear()
        self._box.set_visibility(True)
        asked = _Asked(list(guess.heads), {})
        with self._box:
            words("What does each column hold?", "p", "attention").props('role="alert"')
            with box("row"):
                for n, head in enumerate(guess.heads):
                    shown = [row[n] for row in cells[:_SHOWN] if n < len(row)]
                    self._put_column(asked, columns, n, head, shown)
            found = {head.column for head in guess.heads}
            for column in columns:
                if column.is_needed and column.name not in found:
                    self._put_same(asked, column)
            with box("row"):
                button("Take the table", lambda: self._take(asked), "key is-main")
                button("Leave it", self.clear, "plain")

    def _take(self, asked: _Asked) -> None:
        self._on_take(tuple(asked.heads), dict(asked.same))

    def _put_column(
        self, asked: _Asked, columns: Sequence[Column], n: int, head: Head, shown: Sequence[str]
    ) -> None:
        title = head.written or f"column {n + 1}"
        with box("heads-column", "fieldset"):
            words(title, "legend")
            hint(", ".join(shown))
            units = Picker(f"Unit of {title}", lambda unit: self._unit(asked, n, unit))
            choices = {column.name: column.symbol for column in columns}
            if any(column.name == "diameter" for column in columns):
                choices |= {f"part:{part}": label for part, label in _PARTS.items()}
            choices |= {_RUN: "run or observer", _NOTHING: "does not count"}

            def choose(chosen: str) -> None:
                asked.heads[n] = _chosen(asked.heads[n], chosen, columns)
                self._put_units(units, columns, asked.heads[n])

            quantity = Picker(f"Quantity of {title}", choose)
            quantity.offer({"Quantity": choices}, _value(head))
            quantity.move(target_index=2)
            self._put_units(units, columns, head)

    def _put_units(self, units: Picker, columns: Sequence[Column], head: Head) -> None:
        column = next((each for each in columns if each.name == head.column), None)
        offered = () if column is None or column.si_unit == "1" else units_of(column)
        units.set_visibility(bool(offered))
        known = {unit: unit for unit in dict.fromkeys((*offered, head.unit)) if unit}
        units.offer({"Unit": known}, head.unit)

    def _unit(self, asked: _Asked, n: int, unit: str) -> None:
        asked.heads[n] = replace(asked.heads[n], unit=unit)

    def _put_same(self, asked: _Asked, column: Column) -> None:
        def changed(text: str) -> None:
            asked.same[column.name] = text.strip()

        put_asked(f"{column.head}, if the same in every row", "", changed, "labelled")


def _value(head: Head) -> str:
    """Give the choice that a head stands for."""
    if head.part == "whole":
        return head.column
    if head.part in (_RUN, _NOTHING):
        return head.part
    return f"part:{head.part}"


def _chosen(head: Head, chosen: str, columns: Sequence[Column]) -> Head:
    """Give a head with another quantity."""
    if chosen == _RUN:
        return replace(head, column="", unit="", part="run")
    if chosen == _NOTHING:
        return replace(head, column="", unit="", part="nothing")
    part: Part = next((each for each in _PARTS if chosen == f"part:{each}"), "whole")
    name = chosen if part == "whole" else "diameter"
    column = next(each for each in columns if each.name == name)
    keeps = head.unit in units_of(column)
    return replace(head, column=name, part=part, unit=head.unit if keeps else column.unit)
