"""From a description to an annotated film: read and correct first, then draw and encode."""

from __future__ import annotations

import hashlib
import math
import shutil
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import platformdirs
from PIL import Image

from glowtrace.bench.learning import Belief, learn
from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import BenchError, Problem
from glowtrace.films.film_file import Film, Frame, Planes, film_frames, open_film
from glowtrace.films.film_reading import Cut, FilmReadings, FoundScreen, read_film, read_frame
from glowtrace.films.knob_estimate import Estimate, KnobTable, estimated_knob, knob_table
from glowtrace.films.laying_over import laid_over
from glowtrace.photographs.grid_lines import printed_grid
from glowtrace.report.clips.clip import Caption, Pixels
from glowtrace.report.films.description import FilmDescription
from glowtrace.report.films.description_file import require_fitting
from glowtrace.report.films.overlay import FilmOverlay
from glowtrace.report.output import refusal, write_output
from glowtrace.watching import UNWATCHED, Cancelled, Progress, Watch
from glowtrace.words.bench import bench_name

_READ: Final = 0.4
"""Part of the work that reading is."""
_OLD_S: Final = 14 * 86400.0
"""Kept readings and stretches that were not touched for so long are cleared away."""
_VERSION: Final = "1"
_FRAME_S, _MEGAPIXEL_S = 0.01, 0.028
"""Time that a frame takes, and each megapixel of it, in s: as `benchmarks/film_speed.py` has it."""
LONG_MIN: Final = 10.0
"""Work that takes longer is better cut."""


@dataclass(frozen=True, eq=False)
class AnnotatedFilm:
    """A film read, and what is to be laid over it."""

    description: FilmDescription
    readings: FilmReadings
    overlay: FilmOverlay
    estimates: Sequence[Estimate]
    work: Path
    """Folder in which what was done is kept."""


def work_folder() -> Path:
    """Give the folder in which readings and stretches of films are kept; safe to delete."""
    return Path(platformdirs.user_cache_dir("glowtrace")) / "films"


def read_described(
    description: FilmDescription,
    prepared: PreparedBench,
    *,
    preview: float | None = None,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> AnnotatedFilm:
    """Read the film of a description, and get ready what is laid over it.

    Parameters
    ----------
    description
        Of `load_description`.
    prepared
        Its bench.
    preview
        Only so many seconds from the start.
    progress, cancelled
        Told how far it is, and asked whether to give up: what is read is kept.

    Raises
    ------
    BenchError
        Settings are beyond a rating; a line is to be read on a screen that shows none.
    FilmError
        The film cannot be read, or its screen is not found.
    """
    bench = prepared.bench
    require_fitting(description, bench)
    _require_readable(description, prepared)
    film = open_film(Path(description.film))
    end = math.inf if description.end is None else description.end
    if preview is not None:
        end = min(end, description.start + preview)
    work = work_folder()
    _clear_old(work)
    watch = Watch(progress, cancelled)
    readings = read_film(
        film,
        printed_grid(bench),
        cut=Cut(description.start, end),
        points=description.grid_points,
        folder=work,
        progress=watch.stretch(0.0, _READ).note,
        cancelled=cancelled,
    )
    knobs, knob = description.knobs, description.estimate
    belief = _belief(description, prepared, watch)
    estimates: Sequence[Estimate] = ()
    if knob is not None:
        settings = knobs.at(description.start)
        part = watch.stretch(_READ, _READ + 0.05)
        table = knob_table(prepared, settings, knob, readings.u, part)
        estimates = estimated_knob(readings, table)
    overlay = _overlay(description, prepared, readings, estimates, belief)
    name = _name(description, end, film.path, prepared)
    return AnnotatedFilm(description, readings, overlay, estimates, work / name)


def look_at(
    description: FilmDescription,
    prepared: PreparedBench,
    found: FoundScreen,
    frame: Frame,
    table: KnobTable | None = None,
) -> FilmOverlay:
    """Read one frame alone and give what would be laid over it.

    Parameters
    ----------
    description, prepared
        As for `read_described`, which errors are also this one's.
    found
        The screen, as `find_screen` finds it for the description's cut and points.
    frame
        Of the description's film.
    table
        Of the knob that is estimated, if any.
    """
    require_fitting(description, prepared.bench)
    _require_readable(description, prepared)
    film = open_film(Path(description.film))
    readings = read_frame(film, printed_grid(prepared.bench), found, frame)
    estimates = estimated_knob(readings, table) if table is not None else ()
    belief = _belief(description, prepared, UNWATCHED)
    return _overlay(description, prepared, readings, estimates, belief)


def picture_of(overlay: FilmOverlay, number: int, frame: Frame, flight: float | None) -> Pixels:
    """Give a frame with all that is laid over it: red, green and blue (rows, columns, 3)."""
    return rgb_of(laid_over(frame.planes, overlay.draw(number, flight)))


def rgb_of(planes: Planes) -> Pixels:
    """Give red, green and blue (rows, columns, 3) of the planes of a frame."""
    from glowtrace.report.films.annotated import video_frame

    return np.asarray(video_frame(planes).to_ndarray(format="rgb24"), np.uint8)


def write_film(
    path: Path,
    made: AnnotatedFilm,
    *,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> None:
    """Draw and encode an annotated film.

    Raises
    ------
    GlowtraceError
        The file cannot be written.
    GivenUpError
        It was cancelled: what is encoded is kept, and gone on with next time.
    """
    from glowtrace.report.films.annotated import Held, write_annotated

    told = made.description
    try:
        write_annotated(
            path,
            made.readings,
            made.overlay.draw,
            made.work,
            holds=[Held(each.time, each.seconds) for each in told.hold],
            captions=[Caption(each.start, each.end, each.text) for each in told.caption],
            chapters=[(each.time, each.title) for each in told.chapter],
            title=f"{Path(told.film).stem}, annotated: {bench_name(made.overlay.prepared.bench)}",
            watch=Watch(progress, cancelled, _READ + 0.05, 1.0),
        )
    except OSError as error:
        raise refusal(path, error) from error
    shutil.rmtree(made.work, ignore_errors=True)


def save_still(path: Path, made: AnnotatedFilm, seconds: float) -> None:
    """Write the frame at a time, with all that is laid over it, to a PNG file.

    Raises
    ------
    GlowtraceError
        The time lies outside the cut, or the file cannot be written.
    """
    import io

    times = made.readings.seconds
    if not times[0] <= seconds <= times[-1] + 1 / made.readings.film.rate:
        allowed = f"give a time from {times[0]:.2f} s to {times[-1]:.2f} s"
        raise BenchError("the film", [Problem("stills", f"{seconds:g} s", allowed)])
    number = max(0, int((times <= seconds + 1e-9).sum()) - 1)
    frame = next(film_frames(made.readings.film, float(times[number]) - 1e-4))
    content = io.BytesIO()
    Image.fromarray(picture_of(made.overlay, number, frame, None)).save(content, "PNG")
    write_output(path, content.getvalue())


def _overlay(
    description: FilmDescription,
    prepared: PreparedBench,
    readings: FilmReadings,
    estimates: Sequence[Estimate],
    belief: Belief | None,
) -> FilmOverlay:
    captions = tuple(Caption(each.start, each.end, each.text) for each in description.caption)
    return FilmOverlay(
        prepared,
        readings,
        description.knobs,
        description.shows,
        captions if description.burnt_in else (),
        estimates,
        description.estimate or "",
        belief,
    )


def _belief(description: FilmDescription, prepared: PreparedBench, watch: Watch) -> Belief | None:
    """Give what is believed about the bench's numbers where a band of doubt is wanted."""
    if "band" not in description.shows:
        return None
    watch.note(_READ, "finding how the line answers to the bench’s numbers")
    return learn(prepared).after


def still_name(film: str, seconds: float) -> str:
    """Give the name of a still picture beside a film."""
    return f"{Path(film).stem}-{seconds:.2f}s.png"


def expected_minutes(film: Film, seconds: float) -> float:
    """Give about how many minutes it takes to annotate a cut of so many seconds."""
    megapixels = film.size[0] * film.size[1] / 1e6
    return seconds * float(film.rate) * (_FRAME_S + _MEGAPIXEL_S * megapixels) / 60.0


def expected_words(film: Film, seconds: float) -> str:
    """Say how long a cut is, and about how long it takes to annotate it."""
    minutes = expected_minutes(film, seconds)
    about = "under a minute" if minutes < 1.0 else f"about {minutes:.0f} min"
    if minutes >= 90.0:
        about = f"about {minutes / 60.0:.0f} h"
    frames = round(seconds * float(film.rate))
    told = f"{frames} frames: {about} on two free cores; what is stopped is gone on with."
    return f"{told} Cut out what you need." if minutes > LONG_MIN else told


def made_words(made: AnnotatedFilm) -> tuple[str, ...]:
    """Say what was read, and what is to be known about it."""
    readings = made.readings
    width, height = readings.film.size
    start, end = readings.seconds[0], readings.seconds[-1]
    told = [f"{len(readings)} frames, {start:.2f} s to {end:.2f} s, {width} x {height}"]
    lost, covered = int(readings.is_lost.sum()), int(readings.is_covered.any(axis=1).sum())
    if lost:
        told.append(f"screen lost in {lost} frames: nothing is drawn on it there")
    if covered:
        told.append(f"part of the line not seen in {covered} frames")
    if readings.film.high_range:
        told.append(f"high dynamic range ({readings.film.high_range}) was turned to ordinary range")
    return (*told, *readings.notes)


def _require_readable(description: FilmDescription, prepared: PreparedBench) -> None:
    if prepared.bench.plane.is_line:
        return
    wrong = [name for name in ("read", "difference") if name in description.shows]
    problems = [
        Problem("shows", f'"{name}"', "this screen shows no line with one height at each place")
        for name in wrong
    ]
    if description.estimate is not None:
        problems.append(
            Problem("estimate", f'"{description.estimate}"', "only a line tells it: leave it out")
        )
    if problems:
        raise BenchError("the film", problems)


def _name(description: FilmDescription, end: float, film: Path, prepared: PreparedBench) -> str:
    """Name all that the drawing depends on."""
    content = (_VERSION, description, end, film.stat().st_mtime_ns, prepared.bench)
    return "drawn-" + hashlib.blake2b(repr(content).encode(), digest_size=10).hexdigest()


def _clear_old(work: Path) -> None:
    with suppress(OSError):
        for each in work.iterdir():
            if time.time() - each.stat().st_mtime > _OLD_S:
                shutil.rmtree(each, ignore_errors=True)
