"""Running a study: stretch after stretch, on all cores or on a cluster, from where it was."""

from __future__ import annotations

from collections import Counter, deque
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from glowtrace.bench.ratings import check_settings
from glowtrace.errors import BenchError, GlowtraceError, Problem, RatingError
from glowtrace.studies.crews import Crew, WorkerLostError, crew_of
from glowtrace.studies.kept import KeptRows, open_kept
from glowtrace.studies.rows import ImaginedBenches, compute_rows
from glowtrace.studies.study import Study
from glowtrace.version import __version__
from glowtrace.watching import Cancelled, Progress, Watch

if TYPE_CHECKING:
    from distributed import Client

_LOOKED_AT: Final = 300
"""Rows that are held against the ratings beforehand."""
_TRIES: Final = 3
"""Workers that may end over one stretch before its rows are to blame."""


def run_study(
    study: Study,
    folder: Path | str,
    *,
    workers: int | None = None,
    cluster: str | Client | None = None,
    cache_dir: Path | None = None,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> KeptRows:
    """Compute the rows of a study that are not there yet.

    Parameters
    ----------
    study
        What to compute.
    folder
        Where the rows are written as they come, as Parquet files; with rows of the same study in
        it, it goes on from there.
    workers
        Processes of this computer; one for each core when left out.
    cluster
        Address of a Dask scheduler ("tcp://..."), or a client: its workers compute instead.
    cache_dir
        Folder for field maps; the user's cache folder when left out.
    progress, cancelled
        See `glowtrace.watching`; what was computed stays.

    Raises
    ------
    GlowtraceError
        Rows beyond a rating, a folder that holds another study or cannot be written, a cluster
        that cannot be reached or has another version, a missing package.
    """
    watch = Watch(progress, cancelled)
    watch.note(0.0, "getting ready")
    first = ImaginedBenches(study, cache_dir)  # its fields are kept, for all processes
    if not study.beyond_ratings:
        _refuse_forbidden(study, first)
    kept = open_kept(study, Path(folder))
    there = kept.there()
    todo = deque(number for number in kept.stretches() if number not in there)
    if todo:
        crew = crew_of(workers if workers is None else min(workers, len(todo)), cluster)
        try:
            _compute(study, kept, todo, crew, watch, cache_dir)
        finally:
            crew.close()
    return kept


def _compute(
    study: Study,
    kept: KeptRows,
    todo: deque[int],
    crew: Crew,
    watch: Watch,
    cache_dir: Path | None,
) -> None:
    done, lost = kept.rows_there(), Counter[int]()
    flying: set[int] = set()
    while todo or flying:
        watch.note(done / kept.count, f"{done} of {kept.count} rows")
        while todo and crew.free > 0:
            number = todo.popleft()
            crew.send(number, compute_rows, study, kept.rows_of(number), __version__, cache_dir)
            flying.add(number)
        for number, result in crew.done():
            flying.discard(number)
            try:
                columns = result()
            except WorkerLostError:
                lost[number] += 1
                if lost[number] >= _TRIES:
                    raise _fatal(kept, number) from None
                todo.appendleft(number)
                continue
            kept.write(number, columns)
            done += len(columns["row"])
    watch.note(1.0, f"{done} of {kept.count} rows")


def _fatal(kept: KeptRows, number: int) -> GlowtraceError:
    rows = kept.rows_of(number)
    return GlowtraceError(
        f"workers ended {_TRIES} times over rows {rows[0]} to {rows[-1]}: is there memory enough "
        f"for each of them? {kept.rows_there()} of {kept.count} rows are kept; call it again, with "
        "fewer workers, to go on from there."
    )


def _refuse_forbidden(study: Study, first: ImaginedBenches) -> None:
    """Look at some rows, evenly spread; the others are marked where they are beyond a rating."""
    rows = np.unique(np.linspace(0, study.count - 1, min(study.count, _LOOKED_AT)).astype(int))
    problems: dict[tuple[str, str], Problem] = {}
    beyond = 0
    for row in rows.tolist():
        try:
            bench, settings = first.bench_and_settings(study.values(range(row, row + 1))[0])
        except BenchError:
            continue
        found = check_settings(bench, settings)
        beyond += bool(found)
        for each in found:
            problems.setdefault((each.field, each.allowed), each)
    if problems:
        told = f"a study of which {beyond} of {len(rows)} rows looked at pass a rating"
        raise RatingError(told, list(problems.values()))
