"""The sweep itself: every point of a grid of knobs and numbers of the bench, on all cores."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final, NamedTuple, Protocol, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from glowtrace.bench.arguments import require_count, require_kind, require_model
from glowtrace.bench.checking import change
from glowtrace.bench.knowledge import knowledge_of
from glowtrace.bench.learning import Belief
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, Problem, RatingError
from glowtrace.sweeps.axes import Axis, axes_of, points_of
from glowtrace.sweeps.band import belief_of, read_band
from glowtrace.sweeps.row import Row, read_row
from glowtrace.sweeps.table import Sweep, columns_of
from glowtrace.watching import Cancelled, Progress, Watch

Array = NDArray[np.float64]

MOST_POINTS: Final = 1_000_000
Made = TypeVar("Made")


class Runner(Protocol):
    """Runs a piece of work and gives what it makes."""

    def __call__(self, work: Callable[[], Made], /) -> Made:
        """Run it."""


def _at_once(work: Callable[[], Made], /) -> Made:
    return work()


def sweep(
    prepared: PreparedBench,
    settings: Settings,
    turned: Mapping[str, ArrayLike] | None = None,
    *,
    at: float | None = None,
    model: Model = "bench",
    electrons: int = 200,
    seed: int = 0,
    beyond_ratings: bool = False,
    bands: bool | None = None,
    workers: int | None = None,
    run: Runner = _at_once,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
    **knobs: ArrayLike,
) -> Sweep:
    """Read the picture at every point of a grid: ``sweep(tube, settings, plate_voltage=volts)``.

    Parameters
    ----------
    prepared, settings
        The bench, and what stays as it is.
    turned
        What is turned, by name, with its values in SI units: a knob, or a number of the bench by
        its path in the file, as in ``{"plates.gap": [0.04, 0.05]}``; for each value of a number
        the fields are computed anew. A plate voltage or coil current below 0 is set with the other
        polarity.
    at
        Where along the beam heights and widths are read, m; where Rehearse reads them first when
        left out. Of no account on an end face.
    model, electrons, seed
        As for `PreparedBench.picture`.
    beyond_ratings
        Whether to go on where a rating forbids a point; the table marks such points.
    bands
        Whether to give the ends of 95 % bands too, where the bench has doubts and the model is
        "bench"; by default where knobs alone are turned. Where a number of the bench is, they take
        seconds for each of its values.
    workers
        Threads; one for each core when left out.
    run
        Runs each piece of the work, for a program that has something else to do in between.
    progress, cancelled
        See `glowtrace.watching`.
    knobs
        More of what is turned; a knob's name is an argument of its own.

    Raises
    ------
    GlowtraceError
        An unknown name, a value that is not allowed, a rating that is passed, too many points.
    """
    require_kind(prepared, PreparedBench)
    require_kind(settings, Settings)
    require_model(model)
    require_count("electrons", electrons, 1)
    require_count("seed", seed, 0)
    axes = axes_of(prepared.bench, {**(turned or {}), **knobs})
    count = int(np.prod([len(axis.values) for axis in axes]))
    if count > MOST_POINTS:
        raise GlowtraceError(Problem("points", f"{count}", f"ask for {MOST_POINTS} or fewer"))
    points = points_of(axes)
    low, high = prepared.plane.shown_x
    place = prepared.plane.first_read_x if at is None else float(at)
    if not low <= place <= high:
        span = f"choose between {1e3 * low:g} mm and {1e3 * high:g} mm"
        raise GlowtraceError(Problem("at", f"{1e3 * place:g} mm", span))
    groups = tuple(_groups(prepared.bench, settings, axes, points))
    if not beyond_ratings:
        _refuse_forbidden(groups)
    watch = Watch(progress, cancelled)
    wants_bands = all(axis.is_knob for axis in axes) if bands is None else bands
    wants_bands &= model == "bench" and bool(knowledge_of(prepared.bench).names)
    rows: dict[int, Row] = {}

    def read_point(tube: PreparedBench, belief: Belief | None, chosen: Settings) -> Row:
        watch.require_going()

        def read() -> Row:
            row = read_row(tube, chosen, place, model=model, electrons=electrons, seed=seed)
            return row if belief is None else {**row, **read_band(tube, chosen, place, belief, row)}

        return run(read)

    with TemporaryDirectory(prefix="glowtrace-sweep-") as folder, _workers(workers) as pool:
        for group in groups:
            watch.require_going()
            is_own = group.bench is prepared.bench
            get_ready = partial(prepare, group.bench, cache_dir=Path(folder))
            tube = prepared if is_own else run(get_ready)
            believe = partial(belief_of, tube, is_as_it_stands=is_own)
            belief = run(believe) if wants_bands else None
            read = pool.map(partial(read_point, tube, belief), group.settings)
            for number, row in zip(group.points, read, strict=True):
                rows[number] = row
                watch.note(len(rows) / count, f"{len(rows)} of {count} points")
    columns = columns_of(axes, points, [rows[number] for number in range(count)])
    return Sweep(prepared.bench, settings, model, place, electrons, seed, axes, columns)


class _Group(NamedTuple):
    """The points of one bench."""

    bench: Bench
    points: tuple[int, ...]
    settings: tuple[Settings, ...]


def _groups(
    bench: Bench, settings: Settings, axes: Sequence[Axis], points: Array
) -> Iterator[_Group]:
    """Sort points by the bench that they need: its fields are computed once."""
    numbers = [n for n, axis in enumerate(axes) if not axis.is_knob]
    knobs = [n for n, axis in enumerate(axes) if axis.is_knob]
    by_bench: dict[tuple[float, ...], list[int]] = {}
    for place, point in enumerate(points.tolist()):
        by_bench.setdefault(tuple(point[n] for n in numbers), []).append(place)
    for values, places in by_bench.items():
        changes = {axes[n].name: axes[n].written(v) for n, v in zip(numbers, values, strict=True)}
        own = change(bench, changes, "bench of a sweep") if changes else bench
        turned = [{axes[n].name: float(points[place, n]) for n in knobs} for place in places]
        yield _Group(own, tuple(places), tuple(settings.turned(**each) for each in turned))


def _refuse_forbidden(groups: Sequence[_Group]) -> None:
    """Refuse points beyond the ratings, each rating told once with the first value beyond it."""
    problems: dict[tuple[str, str], Problem] = {}
    count = 0
    for group in groups:
        for settings in group.settings:
            found = check_settings(group.bench, settings)
            count += bool(found)
            for problem in found:
                problems.setdefault((problem.field, problem.allowed), problem)
    if problems:
        points = "1 point passes" if count == 1 else f"{count} points pass"
        raise RatingError(f"a sweep of which {points} a rating", list(problems.values()))


def _workers(count: int | None) -> ThreadPoolExecutor:
    """Give threads, one for each core: what takes long runs without Python's lock."""
    return ThreadPoolExecutor(count or os.cpu_count(), thread_name_prefix="sweep")
