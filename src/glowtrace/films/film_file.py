"""Films from files: what they hold, and their frames one after the other, upright, in 8 bits.

A frame is three planes of 4:2:0 samples in the ordinary (video) range, as nearly every film has
them: nothing is turned into red, green and blue and back. What telephones do otherwise is undone
here: a turn told beside the picture, ten bits, a high dynamic range. Frames keep their time stamps.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from types import ModuleType
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.errors import GlowtraceError, MissingPackageError
from glowtrace.films.ordinary_range import HIGH_RANGES, ordinary_planes

Plane = NDArray[np.uint8]
Planes = tuple[Plane, Plane, Plane]

_SMALLEST: Final = 160, 90
_LARGEST: Final = 8_900_000
"""Pixels of a frame: 4096 x 2160."""
_EARLY_S: Final = 1.0
"""A film that ends so much before its told end is cut short."""


class FilmError(GlowtraceError):
    """A file that is no film, or a film that cannot be used."""


@dataclass(frozen=True)
class Film:
    """What a file holds; made by `open_film`."""

    path: Path
    size: tuple[int, int]
    """Columns and rows of an upright frame, both even."""
    quarter_turns: int
    """Anticlockwise, that make a stored frame upright."""
    seconds: float
    """How long it lasts; 0 where the file does not say."""
    rate: Fraction
    """Frames a second, on average."""
    time_base: Fraction
    """Seconds of one tick of its time stamps."""
    first_ticks: int
    """Time stamp at which it begins."""
    high_range: str
    """Which curve a film of high dynamic range has ("PQ", "HLG"); empty for an ordinary one."""
    has_sound: bool


@dataclass(frozen=True, eq=False)
class Frame:
    """One frame; rows downwards."""

    ticks: int
    """Time stamp."""
    seconds: float
    """Since the film began."""
    planes: Planes
    """Luma (rows, columns), and both colour differences in half the rows and columns."""


def open_film(path: Path) -> Film:
    """Look what a file holds.

    Raises
    ------
    FilmError
        It is no film, is empty or damaged, has no picture, or too small or large a one.
    MissingPackageError
        The package that reads films is not installed.
    """
    av = _av()
    with _opened(av, path) as file:
        stream = _picture(file, path)
        first = next(_decoded(av, file, stream), None)
        if first is None:
            raise FilmError(f'"{path.name}" has no frame that can be read: it is cut short')
        turns = round(first.rotation / 90) % 4
        width, height = first.width, first.height
        if turns % 2:
            width, height = height, width
        size = width - width % 2, height - height % 2
        if size[0] < _SMALLEST[0] or size[1] < _SMALLEST[1] or size[0] * size[1] > _LARGEST:
            allowed = f"{_SMALLEST[0]} x {_SMALLEST[1]} to 4096 x 2160"
            raise FilmError(f'"{path.name}": {width} x {height} pixels; give a film of {allowed}')
        base = stream.time_base or Fraction(1, 90_000)
        length = stream.duration * base if stream.duration else (file.duration or 0) * 1e-6
        return Film(
            path=path,
            size=size,
            quarter_turns=turns,
            seconds=float(length),
            rate=Fraction(stream.average_rate or 25),
            time_base=base,
            first_ticks=first.pts or 0,
            high_range=HIGH_RANGES.get(int(first.color_trc), ""),
            has_sound=bool(file.streams.audio),
        )


def film_frames(
    film: Film, start: float = 0.0, end: float = math.inf, *, after: int | None = None
) -> Iterator[Frame]:
    """Give the frames of a film from one time to another, in s since it began.

    Parameters
    ----------
    film
        Of `open_film`.
    start, end
        The first frame is at or after the start, the last one before the end.
    after
        Time stamp of a frame that was had already: only later ones are given.

    Raises
    ------
    FilmError
        The film is damaged or cut short there; the frames before it have been given.
    """
    av = _av()
    last = 0.0 if after is None else float((after - film.first_ticks) * film.time_base)
    with _opened(av, film.path) as file:
        stream = _picture(file, film.path)
        stream.thread_type = "AUTO"
        begin = film.first_ticks + math.ceil(start / film.time_base - 1e-6)
        wanted = begin if after is None else max(begin, after + 1)
        if wanted > film.first_ticks:
            file.seek(wanted, stream=stream)
        for frame in _decoded(av, file, stream):
            ticks = frame.pts
            if ticks is None or ticks < wanted:
                continue
            last = float((ticks - film.first_ticks) * film.time_base)
            if last >= end - 1e-9:
                return
            yield Frame(ticks, last, _upright(frame, film))
        if film.seconds and last < min(end, film.seconds) - _EARLY_S:
            raise FilmError(f'"{film.path.name}" breaks off at {last:.1f} s: it is cut short')


def _av() -> ModuleType:
    try:
        import av
    except ModuleNotFoundError as error:
        raise MissingPackageError("Films", "av", "clips") from error
    return av


def _opened(av: ModuleType, path: Path) -> Any:
    try:
        if path.is_file() and path.stat().st_size == 0:
            raise FilmError(f'"{path.name}" is empty: copy the film from the camera again')
        return av.open(str(path))
    except av.error.FileNotFoundError:
        raise FilmError(f'there is no film "{path}"') from None
    except (av.error.FFmpegError, OSError) as error:
        reason = "it is no film, damaged, or cut short before its end was written"
        raise FilmError(f'"{path.name}" cannot be read as a film: {reason}') from error


def _picture(file: Any, path: Path) -> Any:
    """Give the stream with the picture; a cover that a song has is none."""
    for stream in file.streams.video:
        if not stream.disposition & stream.disposition.attached_pic:
            return stream
    what = "it has sound only" if file.streams.audio else "it has no picture"
    raise FilmError(f'"{path.name}" is no film: {what}')


def _decoded(av: ModuleType, file: Any, stream: Any) -> Iterator[Any]:
    """Decode; a damaged packet is left out, and at the end of what can be read it ends."""
    packets = file.demux(stream)
    while True:
        try:
            packet = next(packets, None)
            if packet is None:
                return
            yield from packet.decode()
        except av.error.InvalidDataError:
            continue
        except (av.error.FFmpegError, StopIteration):
            return


def _upright(frame: Any, film: Film) -> Planes:
    planes: tuple[Plane, ...]
    if film.high_range:
        deep = frame.reformat(format="yuv420p10le")
        stored = tuple(_samples(plane, np.uint16) for plane in deep.planes)
        planes = ordinary_planes(stored, film.high_range)
    else:
        if frame.format.name != "yuv420p":
            frame = frame.reformat(format="yuv420p", dst_color_range=1)
        planes = tuple(_samples(plane, np.uint8) for plane in frame.planes)
    turned = [
        np.rot90(plane, film.quarter_turns) if film.quarter_turns else plane for plane in planes
    ]
    columns, rows = film.size
    y, u, v = (
        np.ascontiguousarray(plane[: rows // part, : columns // part])
        for plane, part in zip(turned, (1, 2, 2), strict=True)
    )
    return y, u, v


def _samples(plane: Any, kind: type[np.generic]) -> NDArray[Any]:
    wide = plane.line_size // np.dtype(kind).itemsize
    return np.frombuffer(plane, kind).reshape(-1, wide)[: plane.height, : plane.width]
