"""A whole film read: the screen followed and the line read in every frame between two cuts.

What is read is kept on disk a piece at a time, so that work that was stopped goes on where it was.
A piece is named by all that it depends on: the film, the cut, the grid and the first map.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.films.ahead import ahead
from glowtrace.films.correction import in_units_of
from glowtrace.films.film_file import Film, FilmError, Frame, film_frames
from glowtrace.films.following import (
    FollowState,
    FrameReading,
    begin_following,
    follow_and_read,
    trust_words,
)
from glowtrace.films.kept_readings import COLUMNS, KeptReadings, map_kept, piece_of, state_kept
from glowtrace.films.layout import layout_for
from glowtrace.films.square_on import VIDEO_RANGE
from glowtrace.photographs.grid import ScreenMap, fit_map
from glowtrace.photographs.grid_finding import find_grid
from glowtrace.photographs.grid_lines import PrintedGrid
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.watching import UNWATCHED, Cancelled, Progress, Watch

Array = NDArray[np.float64]

PIECE: Final = 100
"""Frames that are kept together."""
_VERSION: Final = "1"
"""Of the reading: another one is not gone on with."""
_TRIES: Final = 8
"""Frames, a third of a second apart, in which the grid is looked for."""
_APART_S: Final = 1 / 3
_LOST_S: Final = 0.6, 3.0
"""When the grid of a lost screen is looked for in the whole frame, and how long until again."""
_FEWEST_CLICKS: Final = 4
_CLICKS_WITH_LENS: Final = 6


@dataclass(frozen=True, eq=False)
class FilmReadings:
    """What was read in the frames (f,) of a film, at the stations (s,) of its screen; m and s."""

    film: Film
    grid: PrintedGrid
    first_map: ScreenMap
    u: Array
    """(s,)."""
    ticks: NDArray[np.int64]
    seconds: Array
    heights: Array
    """(f, s) nan where the line is not seen."""
    is_covered: NDArray[np.bool_]
    """(f, s) not seen though it is elsewhere."""
    parameters: Array
    """(f, 9) of the frames' maps."""
    is_lost: NDArray[np.bool_]
    pieces: NDArray[np.int64]
    usual_pieces: Array
    scatter: Array
    notes: tuple[str, ...] = ()
    """What is to be known: where the film breaks off."""

    def __len__(self) -> int:
        return len(self.ticks)

    def trust(self, number: int) -> str:
        """Why the map of a frame is trusted or not, in words."""
        pieces, usual = int(self.pieces[number]), float(self.usual_pieces[number])
        scatter, is_lost = float(self.scatter[number]), bool(self.is_lost[number])
        return trust_words(pieces, usual, scatter, is_lost=is_lost)

    def screen_map(self, number: int) -> ScreenMap | None:
        """Give the map of a frame; None where the screen is lost."""
        if self.is_lost[number]:
            return None
        return replace(self.first_map, parameters=self.parameters[number])


@dataclass(frozen=True)
class Cut:
    """The part of a film that is wanted, in s since it began."""

    start: float = 0.0
    end: float = math.inf


class FoundScreen(NamedTuple):
    """The screen in the first frame of a cut in which it is found."""

    state: FollowState
    seconds: float


def read_film(
    film: Film,
    grid: PrintedGrid,
    *,
    cut: Cut | None = None,
    points: Sequence[GridPoint] = (),
    folder: Path | None = None,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> FilmReadings:
    """Follow the screen through a film and read its line in every frame.

    Parameters
    ----------
    film
        Of `open_film`.
    grid
        What is printed on the screen.
    cut
        From when to when; the whole film when left out.
    points
        Crossings of the grid in the first frame of the cut; the grid is looked for without any,
        and which line is which is told by fewer than four.
    folder
        Where readings are kept; nowhere when left out.
    progress, cancelled
        Told how far it is, and asked whether to give up: what is read is kept.

    Raises
    ------
    FilmError
        The screen is not found, its grid is too dim to follow, or there is no frame in the cut.
    GivenUpError
        It was cancelled.
    """
    where = cut or Cut()
    watch = Watch(progress, cancelled)
    kept = KeptReadings(folder, _name(film, grid, where, points))
    state: FollowState | None = None
    found, after = None, None
    if kept.last is not None:
        first_map = map_kept(kept.last, film, grid)
        state, after = state_kept(kept.last, first_map, grid), int(kept.last["ticks"][-1])
    else:
        found = find_screen(film, grid, where, points, watch)
        first_map = found.state.screen_map
    notes: list[str] = []
    begun: list[tuple[Frame, FrameReading]] = []
    length = max(min(where.end, film.seconds or math.inf) - where.start, 1e-3)
    look_at = math.inf
    frames = ahead(film_frames(film, where.start, where.end, after=after))
    for frame in _as_far_as_it_goes(frames, notes):
        part = min(1.0, (frame.seconds - where.start) / length)
        watch.note(part, f"reading the film, {frame.seconds:.1f} s")
        grey = frame.planes[0]
        if found is not None and state is None and frame.seconds >= found.seconds:
            state = found.state
        if state is None:
            reading = _nothing_read(first_map, grid)
        else:
            reading, state = follow_and_read(grey, state)
            look_at = min(look_at, frame.seconds + _LOST_S[0]) if reading.is_lost else math.inf
            if frame.seconds >= look_at:
                state = _found_anywhere(grey, state, grid, first_map) or state
                look_at = frame.seconds + _LOST_S[1]
        begun.append((frame, reading))
        if len(begun) == PIECE:
            kept.keep(begun, state, first_map)
            begun = []
    if begun:
        kept.keep(begun, state, first_map)
    u = layout_for(first_map, grid).station_u
    return FilmReadings(film, grid, first_map, u, **kept.joined(), notes=tuple(notes))


def find_screen(
    film: Film,
    grid: PrintedGrid,
    cut: Cut,
    points: Sequence[GridPoint] = (),
    watch: Watch = UNWATCHED,
) -> FoundScreen:
    """Find the screen in the first frames of a cut; parameters and errors as for `read_film`."""
    screen_map, frame = _first_map(film, grid, cut, points, watch)
    return FoundScreen(_begun(film, frame.planes[0], screen_map, grid), frame.seconds)


def read_frame(film: Film, grid: PrintedGrid, found: FoundScreen, frame: Frame) -> FilmReadings:
    """Read one frame alone, wherever it is in the film: for a look at what would be read.

    The screen is looked for near where it was found, else in the whole frame.
    """
    grey, first_map = frame.planes[0], found.state.screen_map
    reading, state = follow_and_read(grey, found.state)
    again = _found_anywhere(grey, state, grid, first_map) if reading.is_lost else state
    if again is not None:  # the glow is elsewhere than at first
        reading, _ = follow_and_read(grey, again)
    piece = piece_of([(frame, reading)], None, first_map)
    u = layout_for(first_map, grid).station_u
    columns = {name: piece[name] for name in COLUMNS}
    return FilmReadings(film, grid, first_map, u, **columns, notes=())


def _as_far_as_it_goes(frames: Iterator[Frame], notes: list[str]) -> Iterator[Frame]:
    """Give frames until the film ends or breaks off, and note the latter."""
    try:
        yield from frames
    except FilmError as error:
        notes.append(str(error))


def _begun(film: Film, grey: Any, first_map: ScreenMap, grid: PrintedGrid) -> FollowState:
    state = begin_following(grey, first_map, grid, curve=VIDEO_RANGE)
    if not state.can_follow:
        seen = f"only {state.usual_pieces:.0f} pieces of its lines stand out"
        raise FilmError(
            f'"{film.path.name}": the screen’s grid is too dim to be followed, {seen}; '
            "film with more light on the screen, or take photographs"
        )
    return state


def _nothing_read(screen_map: ScreenMap, grid: PrintedGrid) -> FrameReading:
    """Give the reading of a frame before the screen is first seen."""
    u = layout_for(screen_map, grid).station_u
    blank = np.full(len(u), np.nan)
    return FrameReading(screen_map, u, blank, np.zeros(len(u), bool), blank, True, 0, 0.0, 0.0)


def _first_map(
    film: Film, grid: PrintedGrid, cut: Cut, points: Sequence[GridPoint], watch: Watch
) -> tuple[ScreenMap, Frame]:
    """Give the map of the first frame in which the screen is found, and that frame."""
    first = next(film_frames(film, cut.start, cut.end), None)
    if first is None:
        told = f"from {cut.start:g} s" + (f" to {cut.end:g} s" if cut.end < math.inf else "")
        raise FilmError(f'"{film.path.name}" has no frame {told}; it lasts {film.seconds:.1f} s')
    if len(points) >= _FEWEST_CLICKS:
        lens = len(points) >= _CLICKS_WITH_LENS
        return fit_map(film.size, points, grid.rectangle, lens=lens), first
    says, wanted = "no frame could be read", cut.start
    tries = 1 if points else _TRIES
    for frame in film_frames(film, cut.start, cut.end):
        if frame.seconds < wanted:
            continue
        watch.note(0.0, "looking for the screen’s grid")
        light = VIDEO_RANGE[frame.planes[0]].astype(np.float64)
        found = find_grid(light, grid, known=points, cancelled=watch.cancelled)
        if found.screen_map is not None:
            return found.screen_map, frame
        says, wanted, tries = found.says, frame.seconds + _APART_S, tries - 1
        if tries == 0:
            break
    raise FilmError(f'"{film.path.name}", at {cut.start:g} s: {says}')


def _found_anywhere(
    grey: Any, state: FollowState, grid: PrintedGrid, first_map: ScreenMap
) -> FollowState | None:
    """Look for the grid of a lost screen in the whole frame."""
    found = find_grid(VIDEO_RANGE[grey].astype(np.float64), grid)
    if found.screen_map is None:
        return None
    begun = begin_following(grey, found.screen_map, grid, curve=state.curve)
    # All maps of a film have the units of its first one.
    same = replace(begun, screen_map=in_units_of(begun.screen_map, first_map))
    return same if same.can_follow else None


def _name(film: Film, grid: PrintedGrid, cut: Cut, points: Sequence[GridPoint]) -> str:
    """Name all that readings depend on."""
    stat = film.path.stat()
    content = (_VERSION, stat.st_size, stat.st_mtime_ns, film.path.resolve(), grid, cut, points)
    return hashlib.blake2b(repr(content).encode(), digest_size=10).hexdigest()
