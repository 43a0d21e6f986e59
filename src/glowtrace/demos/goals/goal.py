"""What a demonstration is to show, declared so that a planner can aim at it.

A goal has numbers to hit (its aims), the same numbers measured on one electron along the beam's
axis (cheap, for searching), and a check on the whole bundle (what the audience sees). Every goal
is a frozen dataclass of its own file; `glowtrace.demos.goals` lists them.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, ClassVar, Final, Literal, NamedTuple, Self, cast

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.screen_plane import Shows
from glowtrace.bench.settings import Settings
from glowtrace.demos.kinematics import FloatArray
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.units import format_quantity

Knob = Literal["accelerating_voltage", "plate_voltage", "coil_current"]
Part = Literal["plates", "coil pair", "long coil"]
ELECTRONS: Final = 200
"""Of which a goal judges its picture: one number for answers, windows and refusals, so that the
same setting has the same verdict everywhere."""
Arrangement = Mapping[str, object]
"""Fields of `Settings` that are no knobs: tie, source and reversing switches."""


class Measure(NamedTuple):
    """A number that a goal aims at: its name and SI unit ("1" for a plain number)."""

    name: str
    unit: str


_IN_WORDS: Final = {
    "share on the plates": "part of the beam that hits the plates",
    "share back at the gun": "part of the beam that comes back to the gun",
    "share on the screen": "part of the beam that reaches the screen",
    "largest deviation in trace widths": "strays from straight, in widths of the trace",
    "room left in the picture": "room between the circle and the picture's edge",
    "comes back by": "comes back towards the axis by",
}
"""Figures that a table calls by a short name."""


@dataclass(frozen=True)
class Figure:
    """A number of the picture, and the range in which the demonstration works."""

    name: str
    value: float
    """In the SI unit; NaN where the picture does not have it."""
    unit: str
    low: float | None = None
    high: float | None = None

    @property
    def is_right(self) -> bool:
        """Whether the value lies in its range; NaN never does, unless nothing is asked of it."""
        if self.low is None and self.high is None:
            return True
        above = self.low is None or self.value >= self.low
        below = self.high is None or self.value <= self.high
        return above and below and not math.isnan(self.value)

    @property
    def text(self) -> str:
        """The value, and the range that is wanted, in words."""
        bounds = []
        if self.low is not None:
            bounds.append(f"at least {self.written(self.low)}")
        if self.high is not None:
            bounds.append(f"at most {self.written(self.high)}")
        value = "not to be seen" if math.isnan(self.value) else self.written(self.value)
        return value + (f"; wanted {' and '.join(bounds)}" if bounds else "")

    @property
    def label(self) -> str:
        """The name, or what says more to a reader."""
        return _IN_WORDS.get(self.name, self.name)

    def __str__(self) -> str:
        return f"{self.label}: {self.text}"

    def written(self, value: float) -> str:
        """Write a value as one reads it: shares in per cent, lengths in millimetres."""
        if "share" in self.name:
            return f"{100 * value:.0f} %"
        if self.unit == "m":
            return format_quantity(value, "mm", 3 if abs(value) >= 1e-3 else 2)
        if self.unit == "1":
            return f"{value:.2g}" if abs(value) < 1 else f"{value:.3g}"
        return format_quantity(value, self.unit)

    def as_dict(self) -> dict[str, Any]:
        """Give plain data; numbers carry their unit in the key."""
        return {"name": self.name} | {
            key_with_unit(key, self.unit): value
            for key, value in (("value", plain(self.value)), ("low", self.low), ("high", self.high))
        }


@dataclass(frozen=True)
class Check:
    """How the whole bundle's picture compares with a goal."""

    figures: tuple[Figure, ...]
    measured: tuple[float, ...]
    """The goal's measures, in order, read off the bundle."""
    kind: str = ""
    """What kind of picture it is, see `glowtrace.demos.classification`."""
    kinds: tuple[str, ...] = ()
    """Kinds of which it must be one; any will do when empty."""

    @property
    def ok(self) -> bool:
        """Whether the demonstration works."""
        is_kind = not self.kinds or self.kind in self.kinds
        return is_kind and all(figure.is_right for figure in self.figures)

    @property
    def shortcomings(self) -> tuple[Figure, ...]:
        """The figures that are not right."""
        return tuple(figure for figure in self.figures if not figure.is_right)


@dataclass(frozen=True)
class Goal(ABC):
    """One thing to show. Fields of a goal are its targets, in SI units."""

    name: ClassVar[str]
    title: ClassVar[str]
    says: ClassVar[str]
    """What the audience is told: the physics, in a sentence or two."""
    cautions: ClassVar[tuple[str, ...]]
    """What to look out for, beside the local rules: common practice, no source."""
    views: ClassVar[tuple[Shows, ...]]
    """Kinds of screen that can show it."""
    needs: ClassVar[tuple[Part, ...]]
    """Parts of which all must be there."""
    any_coils: ClassVar[bool] = False
    """Whether coils of any kind will do."""
    knobs: ClassVar[tuple[Knob, ...]]
    """The knobs that matter; those that are best solved for come first."""
    measures: ClassVar[tuple[Measure, ...]]
    """What is aimed at, the most important first."""
    units: ClassVar[Mapping[str, str]]
    """SI unit of each target."""

    @classmethod
    @abstractmethod
    def for_bench(cls, bench: Bench) -> Self:
        """Give the goal with targets that suit a bench's screen."""

    @abstractmethod
    def aims(self) -> FloatArray:
        """Give the wanted value of each measure, in its SI unit."""

    @abstractmethod
    def scales(self) -> FloatArray:
        """Give a change of each measure that an audience would just notice, in its SI unit."""

    @abstractmethod
    def arrangements(self, bench: Bench) -> tuple[Arrangement, ...]:
        """Give the ties and polarities that may do it."""

    @abstractmethod
    def guess(self, bench: Bench, base: Settings) -> Mapping[Knob, float]:
        """Give the ideal model's closed-form answer at the accelerating voltage of ``base``."""

    @abstractmethod
    def measure(
        self, prepared: PreparedBench, settings: Settings, model: Model = "bench"
    ) -> FloatArray:
        """Give the measures of one electron along the axis; NaN where it does not get there."""

    @abstractmethod
    def is_met(
        self,
        prepared: PreparedBench,
        settings: Settings,
        model: Model = "bench",
        electrons: int = ELECTRONS,
    ) -> Check:
        """Check the picture of the whole bundle."""

    def bundle_measure(
        self, prepared: PreparedBench, settings: Settings, model: Model = "bench"
    ) -> FloatArray:
        """Give the measures of the whole bundle, as `measure` has them of the axis."""
        return array(*self.is_met(prepared, settings, model).measured)

    def misfit(self, bench: Bench) -> str | None:
        """Say what of the bench rules the goal out whatever the knobs; None if nothing does."""
        return None

    def easier(self, share: float) -> Self | None:
        """Give a goal that asks for less: ``share`` from 1 (the same) towards 0; None if none."""
        return None

    def alternatives(self) -> tuple[Self, ...]:
        """Give goals of the kind that are neither easier nor harder, the most like it first."""
        return ()

    def residual(
        self, prepared: PreparedBench, settings: Settings, model: Model = "bench"
    ) -> FloatArray:
        """Give the measures' distances from the aims in units of `scales`; all 0 at an answer."""
        return (self.measure(prepared, settings, model) - self.aims()) / self.scales()

    def targets(self) -> tuple[Figure, ...]:
        """Give the targets as figures."""
        return tuple(
            Figure(each.name.replace("_", " "), float(getattr(self, each.name)), unit)
            for each in fields(self)
            if (unit := self.units[each.name]) is not None
        )

    def as_dict(self) -> dict[str, Any]:
        """Give plain data; numbers carry their unit in the key."""
        values = {
            key_with_unit(each.name, self.units[each.name]): getattr(self, each.name)
            for each in fields(self)
        }
        return {"name": self.name, "title": self.title} | values


_SEEN_ON: Final[Mapping[Shows, str]] = {
    "line": "a sheet along the beam",
    "spot": "the end face of the tube",
    "path": "gas that glows along the beam",
}
"""What a picture is seen on, in words."""


def unsuited(goal: Goal | type[Goal], bench: Bench) -> str | None:
    """Say which part of the bench is missing for a goal; None if all are there."""
    if "plates" in goal.needs and bench.plates is None:
        return "the bench has no plates"
    wanted = [part for part in goal.needs if part != "plates"]
    if (wanted or goal.any_coils) and bench.coils is None:
        return "the bench has no coils"
    if bench.coils is not None:
        kind = "coil pair" if bench.coils.kind == "pair" else "long coil"
        for part in wanted:
            if part != kind:
                return f"the bench has a {kind}, and this needs a {part}"
    if bench.plane.shows not in goal.views:
        here = _SEEN_ON[bench.plane.shows]
        wanted_views = " or ".join(_SEEN_ON[view] for view in goal.views)
        return f"the beam is seen on {here}, and this takes {wanted_views}"
    return None


def require(field: str, value: float, unit: str, low: float, allowed: str) -> None:
    """Refuse a target that makes no sense on any bench."""
    if not (value > low and math.isfinite(value)):
        raise GlowtraceError(Problem(field, format_quantity(value, unit), allowed))


def key_with_unit(name: str, unit: str) -> str:
    """Give a key that ends in its unit, as "voltage_v"; a plain number keeps its name."""
    key = name.replace(" ", "_")
    return key if unit == "1" else f"{key}_{unit.lower()}"


def plain(value: float) -> float | None:
    """Give a float that JSON can carry: None for NaN and infinities."""
    return value if math.isfinite(value) else None


def rounded(value: float, step: float) -> float:
    """Round to a multiple of a step, at least one."""
    return round(max(1, round(value / step)) * step, 9)


def array(*values: float) -> FloatArray:
    """Give floats as an array."""
    return cast(FloatArray, np.array(values, dtype=np.float64))
