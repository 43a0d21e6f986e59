"""What a plan says: settings, how far each knob may stray, what comes near a rating, or why not."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from glowtrace.bench.checking import change
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model, Picture
from glowtrace.bench.ratings import KNOBS, settings_record
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals.goal import Check, Goal, Knob, key_with_unit, plain
from glowtrace.demos.null import NullBalance
from glowtrace.plan.certainty import SURE, Certainty
from glowtrace.shown import Shown

WIDEST: Final = "the widest window of the knob that has the narrowest one, relative to its setting"
BRIGHTEST: Final = (
    f"{WIDEST}; where windows differ by less than a fifth, the brighter trace: the higher "
    "accelerating voltage"
)
SPARING: Final = (
    f"{WIDEST}; where windows differ by less than a fifth, the largest margin to a rating"
)
"""How answers are ranked: by `BRIGHTEST` on a phosphor, which glows with the electrons' energy, and
by `SPARING` in gas, which does not."""


_ROUNDING: Final = 1e-9


class Window(NamedTuple):
    """The range of a knob (SI) in which the demonstration works while all else stays."""

    low: float
    high: float
    low_stop: str
    """What ends it: "the picture", or the words of a rating."""
    high_stop: str


@dataclass(frozen=True)
class Sensitivity:
    """How one measure of the goal follows one knob."""

    knob: Knob
    measure: str
    unit: str
    per_percent: float
    """Change of the measure when the knob is turned up by 1 % of its setting, SI."""
    ripple: float
    """Peak-to-peak change of the measure from the ripple of the knob's supply, SI."""
    meter: float
    """Change of the measure if the knob's meter is off by its error, SI."""

    def as_dict(self) -> dict[str, Any]:
        """Give plain data; numbers carry their unit in the key."""
        numbers = {
            "change_per_percent": self.per_percent,
            "change_from_ripple": self.ripple,
            "change_from_meter": self.meter,
        }
        named = {key_with_unit(key, self.unit): plain(value) for key, value in numbers.items()}
        return {"knob": self.knob, "measure": self.measure} | named


@dataclass(frozen=True)
class Margin:
    """How far a knob's setting is from a rating."""

    knob: Knob
    value: float
    limit: float
    why: str
    """The rating, in words."""
    is_floor: bool = False
    """Whether the setting must not fall below the limit."""

    @property
    def share(self) -> float:
        """Distance from the limit relative to the larger of both, 0 to 1; negative beyond it."""
        larger = max(self.value, self.limit)
        apart = self.value - self.limit if self.is_floor else self.limit - self.value
        return apart / larger if larger > 0 else 0.0

    def as_dict(self) -> dict[str, Any]:
        """Give plain data; numbers carry their unit in the key."""
        unit = KNOBS[self.knob]
        return {
            "knob": self.knob,
            f"value_{unit.lower()}": self.value,
            f"limit_{unit.lower()}": self.limit,
            "why": self.why,
            "share": self.share,
        }


@dataclass(frozen=True)
class IdealAnswer:
    """What the ideal model would set, and what that does on the real bench."""

    settings: Settings
    difference: Mapping[Knob, float]
    """Ideal setting over real setting, less 1."""
    on_bench: Check
    """The goal's check of the ideal settings on the real bench."""

    def as_dict(self) -> dict[str, Any]:
        """Give plain data."""
        return {
            "settings": settings_record(self.settings),
            "difference": dict(self.difference),
            "works_on_the_bench": self.on_bench.ok,
            "figures": [figure.as_dict() for figure in self.on_bench.figures],
        }


@dataclass(frozen=True, eq=False, repr=False)
class Plan(Shown):
    """Settings that reach a goal."""

    goal: Goal
    settings: Settings
    model: Model
    check: Check
    windows: Mapping[Knob, Window]
    sensitivities: tuple[Sensitivity, ...]
    margins: tuple[Margin, ...]
    ideal: IdealAnswer | None
    """None for a plan made in the ideal model itself, or where that has no answer."""
    picture: Picture
    """The picture to expect."""
    criterion: str = BRIGHTEST
    other_ties: tuple[Settings, ...] = ()
    """The same with the plates tied otherwise to the anode, where that works too."""
    balance: NullBalance | None = None
    """What a null says of the speed here; None for any other goal."""
    certainty: Certainty | None = None
    """How surely it works; None where the bench tells no uncertainty, and for a focus."""

    def __repr__(self) -> str:
        return f"Plan for {self.goal.name!r} ({self.model} model): {self.settings!r}"

    @property
    def figures(self) -> dict[str, tuple[float, str]]:
        """The figures of the check: value (SI) and unit by name."""
        return {figure.name: (figure.value, figure.unit) for figure in self.check.figures}

    def half_window(self, knob: Knob) -> float | None:
        """Give half the window of a knob relative to its setting; None of one not turned up."""
        value = float(getattr(self.settings, knob))
        if knob not in self.windows or not value > 0:
            return None
        return (self.windows[knob].high - self.windows[knob].low) / (2 * value)

    @property
    def narrowest(self) -> float:
        """Half the narrowest window relative to its knob's setting."""
        halves = [self.half_window(knob) for knob in self.windows]
        return min((half for half in halves if half is not None), default=0.0)

    @property
    def least_margin(self) -> float:
        """The smallest margin to a rating, relative."""
        return min((margin.share for margin in self.margins), default=math.inf)

    def as_dict(self) -> dict[str, Any]:
        """Give plain data; numbers carry their unit in the key."""
        windows = {
            knob: {
                f"low_{KNOBS[knob].lower()}": window.low,
                f"high_{KNOBS[knob].lower()}": window.high,
                "low_stop": window.low_stop,
                "high_stop": window.high_stop,
            }
            for knob, window in self.windows.items()
        }
        return {
            "goal": self.goal.as_dict(),
            "settings": settings_record(self.settings),
            "model": self.model,
            "figures": [figure.as_dict() for figure in self.check.figures],
            "windows": windows,
            "sensitivities": [each.as_dict() for each in self.sensitivities],
            "margins": [each.as_dict() for each in self.margins],
            "ideal": None if self.ideal is None else self.ideal.as_dict(),
            "null": None if self.balance is None else self.balance.as_dict(),
            "narrowest_window": self.narrowest,
            "least_margin": self.least_margin,
            "criterion": self.criterion,
            "other_ties": [settings_record(settings) for settings in self.other_ties],
        } | ({} if self.certainty is None else {"certainty": self.certainty.as_dict()})


@dataclass(frozen=True)
class Binding:
    """What stops a goal: a rating that is too low, or something else of the bench."""

    text: str
    knob: Knob | None = None
    needed: float | None = None
    """Setting of the knob that the goal needs, SI."""
    limit: float | None = None
    """Setting that the rating allows, SI."""

    def as_dict(self) -> dict[str, Any]:
        """Give plain data; numbers carry their unit in the key."""
        if self.knob is None:
            return {"text": self.text}
        unit = KNOBS[self.knob]
        numbers = {
            f"needed_{unit.lower()}": self.needed,
            f"limit_{unit.lower()}": self.limit,
        }
        return {"text": self.text, "knob": self.knob} | numbers


@dataclass(frozen=True)
class Remedy:
    """A change with which the goal is reached, computed with the changed bench."""

    text: str
    bench_changes: Mapping[str, object]
    """New values by the dotted path of the bench file; empty where knobs alone change."""
    settings: Settings
    check: Check
    named: str = ""
    """What tells the changed bench from the one that it was, in two or three words."""

    def changed(self, bench: Bench) -> Bench:
        """Give the bench with this change: its name and its notes tell it from the one it was."""
        notes = f"{bench.notes.rstrip()}\n\nAs “{bench.name}”, changed: {self.text}.".lstrip()
        told = {"name": f"{bench.name}, {self.named}", "notes": notes}
        return change(bench, {**self.bench_changes, **told}, "the changed bench")

    def as_dict(self) -> dict[str, Any]:
        """Give plain data."""
        return {
            "text": self.text,
            "bench_changes": dict(self.bench_changes),
            "settings": settings_record(self.settings),
            "figures": [figure.as_dict() for figure in self.check.figures],
        }


@dataclass(frozen=True)
class Refusal:
    """Why a goal cannot be reached, and what can."""

    binding: Binding
    nearest_goal: Goal | None
    """The nearest goal of the kind that works on this bench."""
    nearest_settings: Settings | None
    nearest_check: Check | None
    """Its check at these settings; it is met."""
    remedies: tuple[Remedy, ...]
    possible_on: float | None = None
    """Part of the tubes that the bench may be on which it is reached all the same; None where the
    bench tells no uncertainty, for a focus, and where nothing was tried."""

    @property
    def is_sure(self) -> bool:
        """Whether it holds for 95 % of the tubes that the bench may be."""
        return self.possible_on is None or self.possible_on <= 1.0 - SURE + _ROUNDING

    def as_dict(self) -> dict[str, Any]:
        """Give plain data."""
        goal, settings, check = self.nearest_goal, self.nearest_settings, self.nearest_check
        return {
            "binding": self.binding.as_dict(),
            "nearest_goal": None if goal is None else goal.as_dict(),
            "nearest_settings": None if settings is None else settings_record(settings),
            "nearest_figures": None if check is None else [f.as_dict() for f in check.figures],
            "remedies": [remedy.as_dict() for remedy in self.remedies],
            "possible_on": self.possible_on,
        }


@dataclass(frozen=True, eq=False, repr=False)
class Planned(Shown):
    """Every answer found, the best first; or why there is none."""

    answers: tuple[Plan, ...]
    refusal: Refusal | None

    def __repr__(self) -> str:
        if self.refusal is not None:
            return f"Planned: no answer; {self.refusal.binding.text}"
        return "\n  ".join(["Planned:", *map(repr, self.answers)])

    def as_dict(self) -> dict[str, Any]:
        """Give plain data for JSON."""
        return {
            "answers": [answer.as_dict() for answer in self.answers],
            "refusal": None if self.refusal is None else self.refusal.as_dict(),
        }
