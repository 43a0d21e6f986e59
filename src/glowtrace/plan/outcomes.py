"""Maps of what happens: two knobs turned through their ranges, a bundle of electrons at each point.

Rows come as they are done, spread over the map first and filled in later, so that a page can show
the whole of it early.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import starts_inside
from glowtrace.beam.source import sequence_shifts
from glowtrace.bench.arguments import require_count, require_kind, require_model
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import KNOBS, check_settings, knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import KINDS, Classifier
from glowtrace.demos.goals.goal import Knob, key_with_unit
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.plan.rating_lines import RatingLine, rating_lines
from glowtrace.plan.sweep import fly_settings
from glowtrace.watching import Cancelled, Progress

Array = NDArray[np.float64]
Codes = NDArray[np.int8]

NOT_YET: Final = -1
"""Code of a point that has not been computed."""
_TOLERANCE = 1e-6
"""Error of position in m per step: a hundredth of what the eye sees."""
_LONGEST = 1.0
_MOST = 4000
"""Points along one side of a map."""


class Row(NamedTuple):
    """One finished row of a map."""

    number: int
    codes: Codes
    """(columns,) places in `KINDS`."""


@dataclass(frozen=True, eq=False)
class OutcomeMap:
    """What happens at each setting of two knobs."""

    settings: Settings
    """All that is not on the axes."""
    model: Model
    knob_x: Knob
    knob_y: Knob
    x: Array
    """(columns,) settings of the knob along x, SI."""
    y: Array
    """(rows,) settings of the knob along y, SI."""
    codes: Codes
    """(rows, columns) places in `labels`; `NOT_YET` where the work was broken off."""
    labels: tuple[str, ...]
    ratings: tuple[RatingLine, ...]
    is_complete: bool

    @property
    def shares(self) -> dict[str, float]:
        """Part of the map's points for each outcome that occurs."""
        done = self.codes[self.codes != NOT_YET]
        counts = np.bincount(done, minlength=len(self.labels)) / max(1, done.size)
        return {
            label: float(share)
            for label, share in zip(self.labels, counts, strict=True)
            if share > 0
        }

    def at(self, x: float, y: float) -> str | None:
        """Give what happens at the point nearest to a setting; None where it is not known."""
        column, row = int(np.abs(self.x - x).argmin()), int(np.abs(self.y - y).argmin())
        code = int(self.codes[row, column])
        return None if code == NOT_YET else self.labels[code]

    def as_dict(self) -> dict[str, Any]:
        """Give plain data; numbers carry their unit in the key."""
        return {
            "knob_x": self.knob_x,
            "knob_y": self.knob_y,
            key_with_unit("x", KNOBS[self.knob_x]): self.x.tolist(),
            key_with_unit("y", KNOBS[self.knob_y]): self.y.tolist(),
            "codes": self.codes.tolist(),
            "labels": list(self.labels),
            "ratings": [line.as_dict() for line in self.ratings],
            "is_complete": self.is_complete,
        }


def outcome_map(
    prepared: PreparedBench,
    settings: Settings,
    knob_x: Knob,
    knob_y: Knob,
    *,
    x_range: tuple[float, float] | None = None,
    y_range: tuple[float, float] | None = None,
    size: tuple[int, int] = (200, 200),
    electrons: int = 32,
    seed: int = 0,
    model: Model = "bench",
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
    on_row: Callable[[Row], None] | None = None,
) -> OutcomeMap:
    """Give what happens for two knobs turned through their ranges.

    Parameters
    ----------
    prepared, settings
        The bench, and all settings that are not on the axes; switches give the signs.
    knob_x, knob_y
        The two knobs.
    x_range, y_range
        From where to where in SI; the range that the ratings allow when left out. A range may
        go beyond the ratings: they are drawn, and nothing is switched on. Plate voltage and coil
        current below 0 are those of the other polarity.
    size
        Columns and rows, 2 or more of each.
    electrons
        In the bundle at each point.
    seed, model
        As for `PreparedBench.picture`.
    progress
        Called with the fraction done and a few words after each row.
    cancelled
        Asked before each row; once it says True the map comes back as far as it is.
    on_row
        Called with each row as it is done; the rows do not come in order.

    Raises
    ------
    GlowtraceError
        If the knobs are the same, or a range or size makes no sense.
    """
    require_model(model)
    require_kind(prepared, PreparedBench)
    require_kind(settings, Settings)
    require_count("electrons", electrons, 4)
    require_count("seed", seed, 0)
    x, y = _axes(prepared, knob_x, knob_y, x_range, y_range, size)
    codes = np.full((len(y), len(x)), NOT_YET, dtype=np.int8)
    done = 0
    rows = _rows(prepared, settings, knob_x, knob_y, x, y, electrons, seed, model, cancelled)
    for row in rows:
        codes[row.number] = row.codes
        done += 1
        if on_row is not None:
            on_row(row)
        if progress is not None:
            progress(done / len(y), f"{done} of {len(y)} rows")
    lines = rating_lines(prepared.bench, settings, knob_x, knob_y, x, y)
    return OutcomeMap(settings, model, knob_x, knob_y, x, y, codes, KINDS, lines, done == len(y))


def _rows(
    prepared: PreparedBench,
    settings: Settings,
    knob_x: Knob,
    knob_y: Knob,
    x: Array,
    y: Array,
    electrons: int,
    seed: int,
    model: Model,
    cancelled: Cancelled | None,
) -> Iterator[Row]:
    """Compute rows on all cores and give each as it is done."""
    unit = settings.model_copy(
        update={
            "plate_voltage": 1.0,
            "plate_reversed": False,
            "coil_current": 1.0,
            "coil_reversed": False,
        }
    )
    field = prepared.field(unit, model)
    walls, classifier = prepared.walls, Classifier(prepared, model)
    source, shifts = prepared.source(settings), sequence_shifts(seed)
    inside, plane = starts_inside(field), prepared.canvas._replace(glows=False)

    def compute(number: int) -> Row | None:
        if cancelled is not None and cancelled():
            return None
        knobs = _knobs(settings, knob_x, knob_y, x, float(y[number]))
        ends = np.zeros((len(x), electrons), dtype=np.int64)
        places = np.zeros((len(x), electrons, 2))
        fly_settings(
            field, walls, source, shifts, inside, plane, _TOLERANCE, _LONGEST, knobs, ends, places
        )
        return Row(number, classifier.codes(knobs, ends, places))

    with ThreadPoolExecutor(os.cpu_count(), thread_name_prefix="outcomes") as workers:
        waiting = [workers.submit(compute, number) for number in _spread(len(y))]
        try:
            for future in as_completed(waiting):
                row = future.result()
                if row is not None:
                    yield row
        finally:
            for future in waiting:
                future.cancel()


def _knobs(settings: Settings, knob_x: Knob, knob_y: Knob, x: Array, y: float) -> Array:
    """Give signed knobs (columns, 3) of a row."""
    signs = {
        "accelerating_voltage": 1.0 if settings.heater_on else 0.0,
        "plate_voltage": -1.0 if settings.plate_reversed else 1.0,
        "coil_current": -1.0 if settings.coil_reversed else 1.0,
    }
    columns = {name: np.full(len(x), float(getattr(settings, name))) for name in signs}
    columns[knob_x], columns[knob_y] = x, np.full(len(x), y)
    return np.stack([sign * columns[name] for name, sign in signs.items()], axis=1)


def _spread(count: int) -> list[int]:
    """Give the rows in an order that covers the map evenly at every stage."""
    bits = max(1, (count - 1).bit_length())
    return sorted(range(count), key=lambda row: int(f"{row:0{bits}b}"[::-1], 2))


def _axes(
    prepared: PreparedBench,
    knob_x: Knob,
    knob_y: Knob,
    x_range: tuple[float, float] | None,
    y_range: tuple[float, float] | None,
    size: tuple[int, int],
) -> tuple[Array, Array]:
    known = knob_ranges(prepared.bench)
    choice = f"choose two of {', '.join(known)}"
    _require(knob_x in known and knob_y in known and knob_x != knob_y,
             "knobs", f"{knob_x} and {knob_y}", choice)  # fmt: skip
    _require(all(2 <= count <= _MOST for count in size), "size", size, f"give 2 to {_MOST} of each")
    axes = []
    for knob, given, count in ((knob_x, x_range, size[0]), (knob_y, y_range, size[1])):
        low, high = known[knob][:2] if given is None else given
        _require(
            (low >= 0 or knob != "accelerating_voltage")
            and -Settings.highest(knob) <= low < high <= Settings.highest(knob),
            f"range of the {knob.replace('_', ' ')}",
            f"{low} to {high}",
            _wanted_range(knob) if given is not None else known[knob].why,
        )
        axes.append(np.linspace(low, high, count))
    return axes[0], axes[1]


def _wanted_range(knob: Knob) -> str:
    most = Settings.highest(knob)
    least = 0.0 if knob == "accelerating_voltage" else -most
    return f"give two numbers between {least:g} and {most:g}, the lower first"


def _require(holds: bool, field: str, given: object, allowed: str) -> None:
    if not holds:
        raise GlowtraceError(Problem(field, str(given), allowed))


def forbidden(prepared: PreparedBench, outcome: OutcomeMap, x: float, y: float) -> tuple[str, ...]:
    """Give the words of every rating that forbids a point of a map."""
    settings = outcome.settings.turned(**{outcome.knob_x: x, outcome.knob_y: y})
    return tuple(problem.allowed for problem in check_settings(prepared.bench, settings))
