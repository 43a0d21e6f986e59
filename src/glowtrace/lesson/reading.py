"""Readings of groups: what each is given, what they make of it, and all pooled to one e/m.

Each group's e/m comes from its own rows by the same fit as every other measurement. What a group
reads is its own and scatters between groups; the meters, the bench's data and the losses are the
same for all. So the groups are pooled with their own uncertainties, and what they share is added
to the pooled one once.
"""

from __future__ import annotations

import math
from base64 import b64encode
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from glowtrace.bench.files import settings_to_toml
from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import KNOBS, knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.lesson.live import Given
from glowtrace.lesson.question import MOST_GROUPS, MOST_PHOTOGRAPH, Asked, Question, Task
from glowtrace.measure.methods import READ_OFF, Column, Method, column_of
from glowtrace.measure.pooling import Pooled, pool
from glowtrace.measure.specific_charge import fit_specific_charge
from glowtrace.measure.suiting import why_not
from glowtrace.units import format_quantity, significant
from glowtrace.words import say
from glowtrace.words.bench import knob_label

METHODS: Final[tuple[Method, ...]] = ("coils only", "circle", "null", "axial focus")
"""The ways to measure e/m of which a class can share the work."""
_POINTS: Final = 3
"""Points of the line that each group reads."""
_SPREAD: Final = 0.15
"""Part of a setting by which the first and the last group's differ from the rehearsed one."""
PHOTOGRAPHED: Final[tuple[Method, ...]] = ("coils only", "circle")
"""Of these, what a photograph shows; at a null or a focus the number is read off a meter."""
_READ: Final[Mapping[Method, str]] = {
    "coils only": "coil_current",
    "circle": "accelerating_voltage",
    "null": "coil_current",
    "axial focus": "accelerating_voltage",
}
"""The knob that each group has at another setting; groups that read points share all settings."""


@dataclass(frozen=True)
class GroupResult:
    """What one group measured.

    Attributes
    ----------
    group, rows
        Its number, and how many readings it sent.
    value
        e/m in C/kg; None where the readings give none.
    own, shared
        Standard uncertainties in C/kg: of its own readings, and of what all groups share.
    trouble
        Why there is no value.
    """

    group: int
    rows: int
    value: float | None
    own: float = math.nan
    shared: float = math.nan
    trouble: str = ""


@dataclass(frozen=True, eq=False)
class ClassResult:
    """What the class measured.

    Attributes
    ----------
    groups
        In the order of their numbers.
    pooled
        Of those that have a value; None for fewer than two.
    """

    groups: tuple[GroupResult, ...]
    pooled: Pooled | None

    @property
    def measured(self) -> tuple[GroupResult, ...]:
        """The groups with a value, as `pooled` has them."""
        return tuple(each for each in self.groups if each.value is not None)

    @property
    def shared(self) -> float:
        """Standard uncertainty in C/kg of what all groups share: their number does not help."""
        return float(np.mean([each.shared for each in self.measured]))

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty in C/kg of the pooled value, with what all groups share."""
        assert self.pooled is not None
        return math.hypot(self.pooled.uncertainty, self.shared)

    @property
    def lying_out(self) -> tuple[int, ...]:
        """Numbers of the groups that lie further out than chance explains."""
        if self.pooled is None:
            return ()
        pairs = zip(self.measured, self.pooled.lying_out, strict=True)
        return tuple(each.group for each, is_out in pairs if is_out)


def suited_methods(bench: Bench) -> tuple[Method, ...]:
    """Give the methods that a class can share on a bench."""
    return tuple(method for method in METHODS if why_not(method, bench) is None)


def reading(
    apparatus: PreparedBench,
    method: Method,
    settings: Settings,
    groups: int,
    photograph: bytes = b"",
) -> Question:
    """Ask groups to read the real tube, each at its own settings or points, or a photograph of it.

    Parameters
    ----------
    apparatus, settings
        What stands on the table, and how it is set.
    method
        One of `suited_methods`.
    groups
        How many groups.
    photograph
        JPEG, taken at these settings, which are then those of all groups.

    Raises
    ------
    GlowtraceError
        The method does not suit the bench, its plates or a photograph, the photograph is too large,
        the line is too short to be read, or there are too few or too many groups.
    """
    bench = apparatus.bench
    if method not in METHODS or (reason := why_not(method, bench)):
        told = reason if method in METHODS else "groups cannot share it"
        raise GlowtraceError(Problem("method", f'"{method}"', f"choose another one: {told}"))
    if not 1 <= groups <= MOST_GROUPS:
        raise GlowtraceError(Problem("groups", f"{groups}", f"give 1 to {MOST_GROUPS}"))
    if photograph and method not in PHOTOGRAPHED:
        raise GlowtraceError("A photograph shows a line or a circle; choose such a method.")
    if len(photograph) > MOST_PHOTOGRAPH:
        raise GlowtraceError("The photograph is too large for phones; take another one.")
    if settings.plate_voltage and method != "null":
        given = format_quantity(settings.plate_voltage, "V")
        told = "set it to 0 V: this method reads the line without the plates"
        raise GlowtraceError(Problem("plate voltage", given, told))
    if method == "coils only":
        made = _points_to_read(apparatus, settings, groups)
    else:
        spread = 0.0 if photograph else _SPREAD
        made = [_task(bench, method, settings, n, groups, spread) for n in range(groups)]
    return Question(
        kind="read",
        text=say("lesson.ask.read.photograph" if photograph else "lesson.ask.read"),
        method=method,
        fields=_fields(bench, method),
        tasks=tuple(made),
        settings_text=settings_to_toml(settings),
        photograph=b64encode(photograph).decode(),
    )


def _fields(bench: Bench, method: Method) -> tuple[Asked, ...]:
    column = column_of(method, READ_OFF[method])
    if method == "coils only":
        low, high = bench.plane.heights
        return tuple(
            _asked(column, f"y {n + 1}", say("lesson.field.height", n=str(n + 1)), low, high)
            for n in range(_POINTS)
        )
    high = knob_ranges(bench)[column.name].high if column.name in KNOBS else column.high
    if method == "circle":
        high = 2.0 * (bench.plane.heights[1] - bench.plane.heights[0])
    low = 0.0 if column.name in KNOBS else column.low
    return (_asked(column, column.symbol, _field_words(method), low, high),)


def _field_words(method: Method) -> str:
    if method == "circle":
        return say("lesson.field.diameter")
    return say("lesson.field.null") if method == "null" else say("lesson.field.focus")


def _asked(column: Column, symbol: str, text: str, low: float, high: float) -> Asked:
    return Asked(
        column=column.name,
        symbol=symbol,
        text=text,
        unit=column.unit,
        si_unit=column.si_unit,
        low=low,
        high=high,
    )


def _task(
    bench: Bench, method: Method, settings: Settings, n: int, groups: int, spread: float
) -> Task:
    knob = _READ[method]
    part = spread * (0.0 if groups == 1 else 2.0 * n / (groups - 1) - 1.0)
    value = _varied(bench, knob, float(getattr(settings, knob)), part)
    told = f"{knob_label(knob)}: {format_quantity(value, KNOBS[knob])}"
    row = _common(settings)
    row[knob] = math.copysign(value, row[knob])
    if method == "axial focus":
        del row["coil_current"]
        row["length"] = bench.plane.x_to
    return Task(told=told, rows=(row,))


def _common(settings: Settings) -> dict[str, float]:
    current = settings.coil_current * (-1.0 if settings.coil_reversed else 1.0)
    return {"accelerating_voltage": settings.accelerating_voltage, "coil_current": current}


def _points_to_read(apparatus: PreparedBench, settings: Settings, groups: int) -> list[Task]:
    """Give each group other lines of the grid at which to read, where the line is on the screen.

    The x of a reading is that of the grid.
    """
    plane = apparatus.plane
    low, high = plane.heights
    upright, _ = plane.grid()
    lines = [u for u in upright if u > 0.3 * plane.extent[1]]
    seen = [u for u in lines if low < apparatus.line_height(settings, plane.x_of(u)) < high]
    if len(seen) < _POINTS:
        raise GlowtraceError(
            "At these settings the line crosses too few lines of the grid to be read; bend it less."
        )
    step = len(seen) // _POINTS
    made = []
    for n in range(groups):
        places = sorted(seen[(n + k * step) % len(seen)] for k in range(_POINTS))
        told = ", ".join(f"{k + 1}: x = {format_quantity(u, 'mm')}" for k, u in enumerate(places))
        made.append(Task(told=told, rows=tuple({**_common(settings), "x": u} for u in places)))
    return made


def _varied(bench: Bench, knob: str, usual: float, part: float) -> float:
    """Give a group's own setting of a knob, within its ratings and to two or three figures."""
    reach = knob_ranges(bench)[knob]
    value = float(significant(usual * (1.0 + part), 3, style="plain"))
    return min(max(value, reach.low), reach.high)


def class_result(
    question: Question, given: Iterable[Given], apparatus: PreparedBench
) -> ClassResult:
    """Fit each group's readings and pool them.

    Parameters
    ----------
    question
        From `reading`.
    given
        The newest answer of each learner; learners of one group add rows to it.
    apparatus
        The bench.
    """
    rows: dict[int, list[dict[str, float]]] = {}
    for one in given:
        rows.setdefault(one.answer.group, []).extend(group_rows(question, one))
    groups = tuple(
        _group_result(number, question, rows[number], apparatus) for number in sorted(rows)
    )
    measured = [each for each in groups if each.value is not None]
    pooled = None
    if len(measured) >= 2:
        pooled = pool([each.value or 0.0 for each in measured], [each.own for each in measured])
    return ClassResult(groups, pooled)


def group_rows(question: Question, given: Given) -> list[dict[str, float]]:
    """Give an answer as rows of a table of readings: SI values by column."""
    task = question.tasks[given.answer.group - 1]
    made = []
    for field, value, row in zip(question.fields, given.answer.values, task.rows, strict=True):
        if question.method == "null":  # plates against coils: of the other sign
            value = -math.copysign(value, row["coil_current"])
        made.append({**row, field.column: value})
    return made


def _group_result(
    number: int, question: Question, rows: Sequence[Mapping[str, float]], apparatus: PreparedBench
) -> GroupResult:
    assert question.method is not None
    columns: dict[str, Any] = {name: [row[name] for row in rows] for name in rows[0]}
    try:
        found = fit_specific_charge(question.method, apparatus, **columns)
        lines = found.budget.lines
    except GlowtraceError as error:
        return GroupResult(number, len(rows), None, trouble=str(error))
    # What was read has no value of its own in a budget; constants and meters have.
    own, shared = (
        math.hypot(*(line.contribution for line in lines if math.isnan(line.value) is is_read))
        for is_read in (True, False)
    )
    return GroupResult(number, len(rows), found.value, own, shared)
