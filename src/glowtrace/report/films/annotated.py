"""An annotated film into a file: frames drawn and encoded, sound, captions and chapters beside.

Frames are encoded in stretches that are kept until all are there, so that work that was stopped
goes on where it was. Every frame has the time stamp that it had; where a frame is held, all that
follows comes later. Sound is copied as it is where an MP4 can hold it, else encoded anew.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Final, NamedTuple

import av
import numpy as np
from av.video.reformatter import ColorRange

from glowtrace.disk import new_whole
from glowtrace.films.ahead import ahead
from glowtrace.films.film_file import Film, Planes, film_frames
from glowtrace.films.film_reading import FilmReadings
from glowtrace.films.laying_over import laid_over
from glowtrace.report.clips.clip import Caption, Pixels
from glowtrace.report.clips.encoding import write_captions
from glowtrace.watching import Watch

Draw = Callable[[int, float | None], Pixels]
"""Gives what is laid over a frame, by its number in the readings and the part of a held flight."""

STRETCH: Final = 200
"""Frames that are encoded together."""
# Without frames that look ahead, stretches follow each other as if encoded in one.
_VIDEO: Final = {"crf": "21", "preset": "veryfast", "bf": "0"}
_BT709: Final = 1
_COPIED_SOUND: Final = ("aac", "mp3", "ac3", "eac3", "alac", "opus")


@dataclass(frozen=True)
class Held:
    """A frame that stands still from a time on (s of the film) for so many s."""

    time: float
    seconds: float


class Shown(NamedTuple):
    """A frame of the annotated film."""

    number: int
    """Of the frame in the readings."""
    ticks: int
    """Time stamp from the start, in ticks of the film."""
    flight: float | None = None
    """Part of the flight that is done where the frame is held."""


def shown_frames(readings: FilmReadings, holds: Sequence[Held] = ()) -> tuple[Shown, ...]:
    """Give the frames of an annotated film in their order."""
    film = readings.film
    step = max(1, round(1 / (film.rate * film.time_base)))
    shown, later = [], 0
    waiting = sorted(holds, key=lambda hold: hold.time)
    for number, ticks in enumerate(readings.ticks - readings.ticks[0]):
        shown.append(Shown(number, int(ticks) + later))
        while waiting and readings.seconds[number] >= waiting[0].time:
            count = max(1, round(waiting[0].seconds * film.rate))
            begin = int(ticks) + later
            shown += [Shown(number, begin + step * n, n / count) for n in range(1, count + 1)]
            later += step * count
            waiting.pop(0)
    return tuple(shown)


def write_annotated(
    path: Path,
    readings: FilmReadings,
    draw: Draw,
    folder: Path,
    *,
    holds: Sequence[Held] = (),
    captions: Sequence[Caption] = (),
    chapters: Sequence[tuple[float, str]] = (),
    title: str = "",
    watch: Watch,
) -> None:
    """Draw, encode and write an annotated film.

    Parameters
    ----------
    path
        Of the MP4 file.
    readings
        Of the film.
    draw
        Gives what is laid over each frame.
    folder
        Where encoded stretches are kept until the film is whole.
    holds, captions, chapters
        Times in s since the film (not the cut) began.
    title
        Of the file.
    watch
        Told how far it is; asked whether to give up, which keeps what is done.
    """
    frames = shown_frames(readings, holds)
    folder.mkdir(parents=True, exist_ok=True)
    count = math.ceil(len(frames) / STRETCH)
    places = [folder / f"stretch-{n:05d}.mp4" for n in range(count)]
    done = 0
    while done < len(places) and places[done].exists():
        done += 1
    if done < len(places):
        drawn = ahead(_drawn(readings, frames[done * STRETCH :], draw))
        with closing(drawn):
            for n in range(done, len(places)):
                part = watch.stretch(n / len(places), (n + 1) / len(places))
                with new_whole(places[n]) as temporary:
                    _encode(temporary, readings.film, drawn, part)
    clock = _Clock(readings, frames)
    with new_whole(path) as temporary:
        _join(temporary, places, readings.film, frames, clock, captions, chapters, title)
    for place in places:
        place.unlink()


def _drawn(
    readings: FilmReadings, frames: Sequence[Shown], draw: Draw
) -> Iterator[tuple[Shown, Planes]]:
    """Give frames with all that is laid over them."""
    first = frames[0].number
    after = int(readings.ticks[first - 1]) if first else None
    start = 0.0 if first else float(readings.seconds[0])
    source = film_frames(readings.film, start, after=after)
    number, planes = first - 1, None
    for shown in frames:
        while number < shown.number:
            number, planes = number + 1, next(source).planes
        assert planes is not None
        yield shown, laid_over(planes, draw(shown.number, shown.flight))


def _encode(path: Path, film: Film, drawn: Iterator[tuple[Shown, Planes]], watch: Watch) -> None:
    with av.open(str(path), "w", format="mp4") as file:
        stream = video_stream(file, film)
        for n, (shown, planes) in enumerate(drawn):
            watch.note(n / STRETCH, f"drawing frame {shown.number + 1}")
            frame = video_frame(planes)
            frame.pts, frame.time_base = shown.ticks, film.time_base
            file.mux(stream.encode(frame))
            if n + 1 == STRETCH:
                break
        file.mux(stream.encode())


def video_stream(file: Any, film: Film) -> Any:
    """Add the picture's stream of an annotated film to a file."""
    stream = file.add_stream("libx264", rate=film.rate, options=_VIDEO)
    stream.width, stream.height = film.size
    stream.pix_fmt = "yuv420p"
    context = stream.codec_context
    context.time_base = stream.time_base = film.time_base
    context.gop_size = max(2, round(2 * film.rate))
    context.color_range = ColorRange.MPEG
    context.color_primaries = context.color_trc = context.colorspace = _BT709
    return stream


def video_frame(planes: Planes) -> av.VideoFrame:
    """Give the frame that has planes, limited to the video range."""
    height, width = planes[0].shape
    frame = av.VideoFrame(width, height, "yuv420p")
    for plane, values in zip(frame.planes, planes, strict=True):
        rows = np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)
        rows[: values.shape[0], : values.shape[1]] = values
    return frame


class _Clock:
    """From times of the film, in s, to those of the annotated one."""

    def __init__(self, readings: FilmReadings, frames: Sequence[Shown]) -> None:
        running = [shown for shown in frames if shown.flight is None]
        self._from = readings.seconds[[shown.number for shown in running]]
        self._to = np.array([shown.ticks for shown in running]) * float(readings.film.time_base)
        self.start = float(self._from[0])
        self.end = frames[-1].ticks * float(readings.film.time_base) + 1 / float(readings.film.rate)

    def at(self, seconds: float) -> float:
        """Give the time in the annotated film; before its first frame it is below 0."""
        n = int(np.clip(np.searchsorted(self._from, seconds, side="right") - 1, 0, None))
        return float(self._to[n] + seconds - self._from[n])


def _join(
    path: Path,
    places: Sequence[Path],
    film: Film,
    frames: Sequence[Shown],
    clock: _Clock,
    captions: Sequence[Caption],
    chapters: Sequence[tuple[float, str]],
    title: str,
) -> None:
    with ExitStack() as open_files:
        file = open_files.enter_context(
            av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"})
        )
        file.metadata["title"] = title
        first = open_files.enter_context(av.open(str(places[0])))
        video = file.add_stream_from_template(first.streams.video[0])
        video.time_base = film.time_base
        sound = _Sound.of(file, film, clock.start, open_files)
        file.set_chapters(_chapters(chapters, clock))
        timed = [_moved(each, clock) for each in captions]
        timed = [each for each in timed if each.end > each.start]
        if timed:
            write_captions(file, timed)
        else:
            file.start_encoding()
        number = 0
        for place in places:
            with av.open(str(place)) as stretch:
                for packet in stretch.demux(video=0):
                    if packet.size == 0:
                        continue
                    packet.stream, packet.time_base = video, film.time_base
                    packet.pts = packet.dts = frames[number].ticks
                    following = number + 1
                    if following < len(frames):
                        packet.duration = frames[following].ticks - frames[number].ticks
                    sound.mux_until(frames[number].ticks * float(film.time_base), clock)
                    file.mux_one(packet)
                    number += 1
        sound.mux_until(clock.end, clock)


class _Sound:
    """The sound of a film, given bit by bit as the picture goes on."""

    def __init__(
        self, file: Any, packets: Iterator[Any], begin: float, stream: Any, encoder: Any
    ) -> None:
        self._file, self._packets, self._begin = file, packets, begin
        self._stream, self._encoder = stream, encoder
        self._next = next(packets, None)

    @classmethod
    def of(cls, file: Any, film: Film, start: float, open_files: ExitStack) -> _Sound:
        """Add the stream of the sound, if the film has any."""
        if not film.has_sound:
            return cls(file, iter(()), 0.0, None, None)
        source = open_files.enter_context(av.open(str(film.path)))
        heard = source.streams.audio[0]
        source.seek(max(0, round(1e6 * (start - 1.0))))
        begin = float(film.first_ticks * film.time_base)
        if heard.codec_context.name in _COPIED_SOUND:
            stream = file.add_stream_from_template(heard)
            packets = (packet for packet in source.demux(heard) if packet.size)
            return cls(file, packets, begin, stream, None)
        stream = file.add_stream("aac", rate=heard.rate)
        stream.layout = heard.layout
        return cls(file, source.decode(heard), begin, stream, stream)

    def mux_until(self, end: float, clock: _Clock) -> None:
        """Hand on what is heard before a time of the annotated film, in s."""
        while self._next is not None:
            piece = self._next
            at = clock.at(float((piece.pts or 0) * piece.time_base) - self._begin)
            if at >= end:
                return
            if at >= -1e-9:
                self._hand_on(piece, at)
            self._next = next(self._packets, None)

    def _hand_on(self, piece: Any, at: float) -> None:
        base = piece.time_base or Fraction(1, 48_000)
        piece.pts = round(at / base)
        if self._encoder is not None:
            self._file.mux(self._encoder.encode(piece))
            return
        piece.dts, piece.stream = piece.pts, self._stream
        self._file.mux_one(piece)


def _moved(caption: Caption, clock: _Clock) -> Caption:
    start, end = max(0.0, clock.at(caption.start)), min(clock.end, clock.at(caption.end))
    return Caption(start, end, caption.text)


def _chapters(chapters: Sequence[tuple[float, str]], clock: _Clock) -> list[Any]:
    begun = [(max(0.0, clock.at(time)), title) for time, title in sorted(chapters)]
    begun = [(time, title) for time, title in begun if time < clock.end]
    ends = [*(time for time, _ in begun), clock.end][1:]
    return [
        {
            "id": n,
            "start": round(1000 * time),
            "end": round(1000 * end),
            "time_base": Fraction(1, 1000),
            "metadata": {"title": title},
        }
        for n, ((time, title), end) in enumerate(zip(begun, ends, strict=True))
        if math.isfinite(time)
    ]
