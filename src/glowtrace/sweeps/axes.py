"""What a sweep turns: knobs, and numbers of the bench."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple, get_origin

import numpy as np
from numpy.typing import ArrayLike, NDArray

from glowtrace.bench.meanings import standing_numbers
from glowtrace.bench.model import Bench
from glowtrace.bench.ranges import quantity_of, show
from glowtrace.bench.ratings import KNOBS, knobs_of
from glowtrace.bench.wrong_fields import meant_name
from glowtrace.errors import GlowtraceError, Problem

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Axis:
    """One thing that is turned.

    Attributes
    ----------
    name
        Of the setting ("plate_voltage"), or the path of a number of the bench ("plates.gap").
    unit
        SI unit; "1" for a count or a ratio.
    is_count
        Whether it is a whole number.
    values
        (n,) in that unit. Of plates and coils a value below 0 is the other polarity.
    """

    name: str
    unit: str
    is_count: bool
    values: Array

    @property
    def is_knob(self) -> bool:
        """Whether it is a knob; else it is a number of the bench."""
        return self.name in KNOBS

    def written(self, value: float) -> float | int:
        """Give a value as the bench takes it: a count is a whole number."""
        return int(value) if self.is_count and value == int(value) else value

    @property
    def column(self) -> str:
        """Name of its column in a table: ends in the unit."""
        return column_of(self.name, self.unit)


def axes_of(bench: Bench, turned: Mapping[str, ArrayLike]) -> tuple[Axis, ...]:
    """Give the axes of a sweep, in the order in which they were named.

    Raises
    ------
    GlowtraceError
        A name is none of this bench's knobs or numbers, or a value is no finite number.
    """
    if not turned:
        raise GlowtraceError(Problem("what is turned", "nothing", "name a knob and its values"))
    return tuple(_axis(bench, name, values) for name, values in turned.items())


def column_of(name: str, unit: str) -> str:
    """Give the name of a column: "coils.centre[0]" in m is "coils_centre_x_m"."""
    plain = re.sub(r"\[([0-2])\]", lambda found: f"_{'xyz'[int(found[1])]}", name)
    plain = plain.replace(".", "_")
    return plain if unit == "1" else f"{plain}_{unit.lower()}"


class Turnable(NamedTuple):
    """What kind of number can be turned: its SI unit, and whether it is a whole one."""

    unit: str
    is_count: bool = False


def turnable(bench: Bench, name: str) -> Turnable:
    """Give what a name stands for: a knob of the bench, or a single number by its path.

    Raises
    ------
    GlowtraceError
        It is neither.
    """
    known = turnables(bench)
    if name not in known:
        meant = meant_name(name, tuple(known))
        hint = f"; did you mean {meant}?" if meant else ""
        allowed = f"choose a knob ({', '.join(KNOBS)}) or a number of the bench{hint}"
        raise GlowtraceError(Problem("what is turned", show(name), allowed))
    return known[name]


def turnables(bench: Bench) -> dict[str, Turnable]:
    """Give all that can be turned by name: the knobs of the bench first, then its numbers."""
    return {knob: Turnable(KNOBS[knob]) for knob in knobs_of(bench)} | dict(_numbers(bench))


def _numbers(bench: Bench) -> Iterator[tuple[str, Turnable]]:
    for path, _, declared in standing_numbers(bench):
        quantity = quantity_of(declared)
        if declared.annotation is int:
            yield path, Turnable("1", is_count=True)
        elif quantity is not None and declared.annotation in (float, float | None):
            yield path, Turnable(quantity.si_unit)
        elif quantity is not None and get_origin(declared.annotation) is tuple:
            yield from ((f"{path}[{n}]", Turnable(quantity.si_unit)) for n in range(3))


def _axis(bench: Bench, name: str, values: ArrayLike) -> Axis:
    kind = turnable(bench, name)
    try:
        numbers = np.atleast_1d(np.asarray(values, dtype=np.float64))
    except (TypeError, ValueError):
        numbers = np.array([np.nan])
    if numbers.ndim != 1 or not len(numbers) or not np.isfinite(numbers).all():
        raise GlowtraceError(
            Problem(name, show(values), f"give one row of finite numbers in {kind.unit}")
        )
    return Axis(name, *kind, numbers)


def points_of(axes: Iterable[Axis]) -> Array:
    """Give every point (p, axes) of the grid that axes span; the last axis changes fastest."""
    return np.array(list(product(*(axis.values.tolist() for axis in axes))))
