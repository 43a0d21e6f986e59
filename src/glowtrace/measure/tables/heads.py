"""What the columns of a table hold, from heads as people write them.

A head names a quantity and its unit: "D (mm)", "U / V", "Durchmesser in cm", "Va/V", "r (cm)". What
is not sure is not guessed silently: it is asked, with the guess.
"""

from __future__ import annotations

import itertools
import re
import statistics
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import Column
from glowtrace.measure.tables.head_names import (
    LEFT,
    LEFT_HALVES,
    NAMES,
    RADII,
    REMARKS,
    RIGHT,
    RIGHT_HALVES,
    RUNS,
    VOLTAGES,
    plain_name,
)
from glowtrace.units import QuantityError, parse_quantity

Part = Literal["whole", "half", "left", "right", "left half", "right half", "run", "nothing"]
"""What a column has of its quantity: all of it, half of it (a radius), the place of its left or
right end on a scale, the distance of that end from the middle, the name of a run or observer, or
nothing that counts."""


@dataclass(frozen=True)
class Head:
    """What one column of a written table holds."""

    written: str
    column: str = ""
    """Name of the quantity's column."""
    unit: str = ""
    part: Part = "nothing"
    label: str = ""
    """Of the run or observer, where there are several columns of one quantity."""


@dataclass(frozen=True)
class Heads:
    """The columns of a written table."""

    heads: tuple[Head, ...]
    has_names: bool
    """Whether the first line names them."""
    doubts: tuple[str, ...] = ()
    """What is not sure, in a few words each."""


class UnsureColumnsError(GlowtraceError):
    """It is not sure what the columns of a table hold.

    Attributes
    ----------
    guess
        What they seem to hold, to be confirmed or changed.
    columns
        Those of the method that are not the same in every row.
    body
        The cells of the lines below the heads.
    """

    def __init__(
        self, guess: Heads, columns: Sequence[Column], body: Sequence[Sequence[str]]
    ) -> None:
        self.guess, self.body = guess, tuple(map(tuple, body))
        self.columns = tuple(columns)
        found = {each.column for each in guess.heads}
        needed = [column for column in columns if column.is_needed]
        is_whole = all(column.name in found for column in needed)
        example = heads_text(guess.heads, columns) if is_whole else heads_of(needed)
        super().__init__(
            f'columns: {"; ".join(guess.doubts)}. Say what each column holds, as in "{example}"'
        )


_UNIT: Final = re.compile(
    r"^(?P<name>.*?)\s*(?:[(\[]\s*(?:in\s+)?(?P<bracket>[^()\[\]]*?)\s*[)\]]"
    r"|/\s*(?P<slash>\S+)|,\s*(?P<comma>\S+)|\s+in\s+(?P<word>\S+)|\s+(?P<bare>[mcnkµ]?[mVA]))\s*$"
)
_PLAUSIBLE: Final = {"V": (20.0, 60e3), "A": (0.01, 20.0), "m": (0.015, 0.4)}
"""Sizes in SI units that readings mostly have (own estimate): beyond, the unit is asked for."""
_PARTS: Final[Mapping[Part, frozenset[str]]] = {
    "half": RADII,
    "left": LEFT,
    "right": RIGHT,
    "left half": LEFT_HALVES,
    "right half": RIGHT_HALVES,
}
_PART_NAMES: Final[Mapping[Part, str]] = {
    "half": "r",
    "left": "left",
    "right": "right",
    "left half": "r left",
    "right half": "r right",
}
_LABELLED: Final = re.compile(r"(?P<name>[^\W\d]+?)\s*(?:[_\s]+(?P<who>\w[\w ]*)|(?P<n>\d+))")
_NEARLY_EQUAL: Final = 0.3
"""Difference of two ends, as a part of their sum, below which they may be two radii."""
_UNITS: Final = {"m": ("mm", "cm", "m"), "V": ("V", "kV"), "A": ("A", "mA")}


def read_heads(columns: Sequence[Column], cells: Sequence[Sequence[str]]) -> Heads:
    """Find what the columns of a table hold; what is not sure stands in the doubts.

    Parameters
    ----------
    columns
        Of the method.
    cells
        The lines of the table, parted into cells.
    """
    first = cells[0]
    if not any(re.match(r"\s*[^\W\d]|ø", cell) for cell in first):
        return _without_names(columns, cells)
    heads = _labelled(list(_filled(columns, [_head(columns, cell) for cell in first])))
    found = {each.column for each in heads}
    missing = [each for each in columns if each.is_needed and each.name not in found]
    doubts = []
    if missing:  # else whatever else stands in the table does not count
        doubts = [f'"{each.written}" is not known' for each in heads if _is_unknown(each)]
        doubts += [f"no column is {each.head}" for each in missing]
        heads = list(_guessed(columns, heads))
    for n, head in enumerate(heads):
        if head.part not in ("nothing", "run") and not head.unit:
            column = next(each for each in columns if each.name == head.column)
            texts = [row[n] for row in cells[1:] if n < len(row)]
            unit, is_sure = _guessed_unit(column, texts)
            heads[n] = replace(head, unit=unit)
            doubts += [] if is_sure else [f'"{head.written}" has no unit']
    return Heads(tuple(heads), True, (*doubts, *_doubtful_ends(heads, cells[1:])))


def _doubtful_ends(heads: Sequence[Head], body: Sequence[Sequence[str]]) -> Iterator[str]:
    """Say where left and right readings may be places on a scale as well as radii."""
    places = {head.part: n for n, head in enumerate(heads) if head.part in ("left", "right")}
    if len(places) == 2:
        for row in body:
            ends = [_numbers(row[n : n + 1], signed=True) for n in places.values()]
            left, right = (each[0] if each else 0.0 for each in ends)
            if left * right > 0 and abs(right - left) < _NEARLY_EQUAL * abs(right + left):
                names = " and ".join(f'"{heads[n].written}"' for n in places.values())
                yield (
                    f"{names} may be places on a scale (left, right) or distances from the "
                    "middle (r left, r right)"
                )
                return


def _labelled(heads: Sequence[Head]) -> list[Head]:
    """Give the heads with a label to each of several columns of one quantity."""
    counts = Counter(_key(each) for each in heads if each.column)
    return [
        replace(each, label=each.label or f"{n + 1}") if counts[_key(each)] > 1 else each
        for n, each in enumerate(heads)
    ]


def told_heads(columns: Sequence[Column], told: str) -> tuple[Head, ...]:
    """Read what somebody says that the columns hold: "D (cm), V_a (V), I (A)"; "-" is nothing.

    Raises
    ------
    GlowtraceError
        A name is not known or a unit does not fit; says which are.
    """
    heads = []
    for each in told.split(","):
        head = _head(columns, each.strip())
        if _is_unknown(head) and each.strip() not in ("", "-", "–"):
            allowed = ", ".join(column.head for column in columns)
            raise GlowtraceError(f'columns: "{each.strip()}" is not allowed; choose {allowed}')
        if head.column and not head.unit:
            unit = next(column.unit for column in columns if column.name == head.column)
            head = replace(head, unit=unit)
        heads.append(head)
    return tuple(heads)


def heads_text(heads: Sequence[Head], columns: Sequence[Column]) -> str:
    """Write heads so that `told_heads` reads them back."""
    symbols = {column.name: column.symbol for column in columns}

    def text(head: Head) -> str:
        if head.part == "run":
            return "run"
        if head.part == "nothing":
            return "-"
        name = _PART_NAMES.get(head.part)
        unit = f" ({head.unit})" if head.unit not in ("", "1") else ""
        return f"{name or symbols[head.column]}{unit}"

    return ", ".join(map(text, heads))


def heads_of(columns: Sequence[Column]) -> str:
    """Write the heads of columns in their usual units."""
    return ", ".join(column.head for column in columns)


def units_of(column: Column) -> tuple[str, ...]:
    """Give the units in which people may have written a column."""
    return _UNITS.get(column.si_unit, ("1",))


def _key(head: Head) -> tuple[str, str, str]:
    return head.column, head.part, head.label


def _is_unknown(head: Head) -> bool:
    word = plain_name(head.written)
    return head.part == "nothing" and bool(word) and word not in REMARKS


def _head(columns: Sequence[Column], cell: str) -> Head:
    """Read one head; of part "nothing" where it names no quantity of the method."""
    written = cell.strip().strip('"')
    match = _UNIT.match(written)
    name, unit = written, ""
    if match:
        name = match["name"]
        unit = next(each for each in match.groups()[1:] if each is not None)
    head = _named(columns, name, written) or _named(columns, written, written)
    if head is None:
        return Head(written, unit=unit)
    if head.part == "run":
        return head
    column = next(each for each in columns if each.name == head.column)
    if column.si_unit == "1":
        return replace(head, unit="1")
    if unit and not _fits(unit, column):
        if match and match["bracket"] is not None:  # a remark in brackets, "D (left to right)"
            raise GlowtraceError(f"columns: {written}: {_misfit(unit, column)}")
        unit = ""
    return replace(head, unit=unit)


def _fits(unit: str, column: Column) -> bool:
    return not _misfit(unit, column)


def _misfit(unit: str, column: Column) -> str:
    try:
        parse_quantity(f"1 {unit}", column.si_unit)
    except QuantityError as error:
        return str(error)
    return ""


def _named(columns: Sequence[Column], name: str, written: str) -> Head | None:
    """Give the quantity that a name means, in any of its columns; None where it is not known."""
    word = plain_name(name)
    if word in RUNS:
        return Head(written, part="run")
    has_plates = any(column.name == "plate_voltage" for column in columns)
    for column in columns:
        known = {plain_name(each) for each in (column.symbol, column.name)}
        known |= NAMES.get(column.name, frozenset())
        if column.name == "accelerating_voltage" and not has_plates:
            known |= VOLTAGES
        if word in known:
            return Head(written, column.name, part="whole")
        if column.name == "diameter":
            part = next((part for part, words in _PARTS.items() if word in words), None)
            if part is not None:
                return Head(written, column.name, part=part)
        words = {plain_name(each) for each in name.split()}
        general = VOLTAGES if column.si_unit == "V" else frozenset()
        if words & known and words <= known | general:
            return Head(written, column.name, part="whole")  # "Spannung U"
        # "D1", "D Anna": one column for each run or observer
        match = _LABELLED.fullmatch(name.strip())
        if match and plain_name(match["name"]) in known and column.meter == "ruler":
            return Head(written, column.name, part="whole", label=match["who"] or match["n"])
    return None


def _filled(columns: Sequence[Column], heads: Sequence[Head]) -> Iterator[Head]:
    """Give the heads with a voltage of unclear name taken for the only one that is missing."""
    found = {each.column for each in heads}
    missing = [each for each in columns if each.is_needed and each.name not in found]
    for head in heads:
        word = plain_name(_UNIT.sub(r"\g<name>", head.written))
        voltages = [each for each in missing if each.si_unit == "V"]
        if head.part == "nothing" and word in VOLTAGES and len(voltages) == 1:
            yield replace(head, column=voltages[0].name, part="whole")
        else:
            yield head


def _guessed(columns: Sequence[Column], heads: Sequence[Head]) -> Iterator[Head]:
    """Give the heads with those of unknown names guessed by their units, to be confirmed."""
    found = {each.column for each in heads}
    missing = [each for each in columns if each.is_needed and each.name not in found]
    for head in heads:
        word = plain_name(_UNIT.sub(r"\g<name>", head.written))
        unit = head.unit or ("V" if word in VOLTAGES else "")
        fitting = [each for each in missing if unit and _fits(unit, each)]
        if _is_unknown(head) and fitting:
            missing.remove(fitting[0])
            yield replace(head, column=fitting[0].name, unit=unit, part="whole")
        else:
            yield head


def _without_names(columns: Sequence[Column], cells: Sequence[Sequence[str]]) -> Heads:
    """Take columns without names in their order, if their numbers are of the size they have."""
    needed = [each for each in columns if each.is_needed]
    count = len(cells[0])
    wanted = columns if count == len(columns) else needed

    def heads(order: Sequence[Column], units: Sequence[str] | None = None) -> tuple[Head, ...]:
        names = units or [each.unit for each in order]
        return tuple(
            Head("", each.name, unit if each.si_unit != "1" else "1", "whole")
            for each, unit in zip(order, names, strict=True)
        )

    if count == len(wanted):
        texts = [[row[n] for row in cells if n < len(row)] for n in range(count)]
        if all(_is_plausible(c, c.unit, t) for c, t in zip(wanted, texts, strict=True)):
            return Heads(heads(wanted), False)
        guesses = [
            (order, [_guessed_unit(c, t)[0] for c, t in zip(order, texts, strict=True)])
            for order in itertools.permutations(wanted)
        ]
        best = min(guesses, key=lambda guess: _unlikely(guess[0], guess[1], texts))
        return Heads(heads(*best), False, ("the columns have no names",))
    blank = tuple(Head("") for _ in cells[0])
    return Heads(blank, False, (f"{count} columns without names",))


def _unlikely(order: Sequence[Column], units: Sequence[str], texts: Sequence[Sequence[str]]) -> int:
    """Say how little columns in an order fit their numbers."""
    told = list(zip(order, units, texts, strict=True))
    return sum(
        100 * (not _is_plausible(column, unit, text)) + {"kV": 3, "cm": 1, "mA": 2}.get(unit, 0)
        for column, unit, text in told
    )


def _numbers(texts: Sequence[str], *, signed: bool = False) -> list[float]:
    found = []
    for text in texts:
        match = re.match(r"\s*[+\-−]?[0-9]*[.,]?[0-9]+", text)
        if match and not re.search(r"[^\W\d_](?<![eE])", text):  # with a unit of its own
            number = float(match[0].replace(",", ".").replace("−", "-"))
            found += [number if signed else abs(number)] if number else []
    return found


def _is_plausible(column: Column, unit: str, texts: Sequence[str]) -> bool:
    numbers = _numbers(texts)
    if not numbers or column.si_unit not in _PLAUSIBLE or column.name in ("y", "depth", "pitch"):
        return True
    low, high = _PLAUSIBLE[column.si_unit]
    if column.name == "coil_current":
        low = 0.001
    size = statistics.median(numbers) * parse_quantity(f"1 {unit}", column.si_unit)
    return low <= size <= high


def _guessed_unit(column: Column, texts: Sequence[str]) -> tuple[str, bool]:
    """Give the unit that numbers without one seem to have, and whether it is the usual one."""
    if column.si_unit == "1" or _is_plausible(column, column.unit, texts):
        return column.unit, True
    for unit in units_of(column):
        if _is_plausible(column, unit, texts):
            return unit, False
    return column.unit, False
