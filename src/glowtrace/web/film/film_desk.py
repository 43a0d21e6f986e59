"""Looks into an opened film: single frames, plain or with all that would be laid over them.

What a look needs is kept for the next one: the screen where it was found, the last frame, the lines
to compare an estimated knob with. All of it runs beside the page.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Hashable
from typing import Any, Final, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError
from glowtrace.films.film_file import Film, FilmError, Frame, film_frames
from glowtrace.films.film_reading import Cut, FoundScreen, find_screen
from glowtrace.films.knob_estimate import KnobTable, knob_table
from glowtrace.films.layout import layout_for
from glowtrace.photographs.grid_lines import printed_grid
from glowtrace.photographs.photograph import Photograph
from glowtrace.report.films.description import FilmDescription
from glowtrace.report.films.making import look_at, picture_of, rgb_of

Pixels = NDArray[np.uint8]
Kept = TypeVar("Kept")

_WIDEST: Final = 1600
"""Pixels of a picture on the page."""
_QUALITY: Final = 88
STRIP: Final = 12
"""Small pictures along the time line."""
_STRIP_HEIGHT: Final = 54


class Look(NamedTuple):
    """A frame as the page shows it."""

    jpeg: bytes
    seconds: float
    """Its own time."""
    trust: str
    """Why the screen is trusted in it; empty where it was not looked for."""
    trouble: str
    """Why nothing is laid over it; empty where all is well."""


class FilmDesk:
    """The film of a description, to be looked into."""

    def __init__(self, film: Film, prepared: PreparedBench) -> None:
        self.film, self._prepared = film, prepared
        self._kept: dict[str, tuple[Hashable, Any]] = {}

    def first(self, start: float) -> tuple[Photograph, bytes]:
        """Give the first frame of a cut, to click crossings in, and the same as a JPEG file."""
        frame = next(film_frames(self.film, start), None) or self._frame(start)
        pixels = rgb_of(frame.planes)
        return Photograph(pixels, self.film.path.name), _jpeg(pixels)

    def annotated(self, told: FilmDescription, seconds: float) -> Look:
        """Look at a frame with all that is laid over it, or plain, with why it is."""
        frame = self._frame(seconds)
        flight = next((0.5 for hold in told.hold if abs(hold.time - seconds) < 0.05), None)
        try:
            found = self.screen(told)
            table = self._table(told, found)
            overlay = look_at(told, self._prepared, found, frame, table)
            pixels = picture_of(overlay, 0, frame, flight)
        except GlowtraceError as error:
            return Look(_jpeg(rgb_of(frame.planes)), frame.seconds, "", str(error))
        return Look(_jpeg(pixels), frame.seconds, overlay.readings.trust(0), "")

    def screen(self, told: FilmDescription) -> FoundScreen:
        """Give the screen at the beginning of the cut; FilmError where it is not found."""
        cut = Cut(told.start, math.inf if told.end is None else told.end)
        grid = printed_grid(self._prepared.bench)

        def find() -> FoundScreen | str:
            try:
                return find_screen(self.film, grid, cut, told.grid_points)
            except GlowtraceError as error:
                return str(error)

        found = self._keep("screen", (cut.start, told.points), find)
        if isinstance(found, str):
            raise FilmError(found)
        return found

    def strip(self) -> bytes:
        """Give small pictures along the film, side by side, as a JPEG file; in any thread."""
        width = round(_STRIP_HEIGHT * self.film.size[0] / self.film.size[1])
        strip = Image.new("RGB", (STRIP * width, _STRIP_HEIGHT))
        for n in range(STRIP):
            try:
                frame = next(film_frames(self.film, (n + 0.5) * self.film.seconds / STRIP), None)
            except FilmError:
                frame = None
            if frame is None:  # it breaks off: the rest stays dark
                break
            pixels = rgb_of(frame.planes)
            small = Image.fromarray(pixels).resize((width, _STRIP_HEIGHT))
            strip.paste(small, (n * width, 0))
        return _file_of(strip)

    def _frame(self, seconds: float) -> Frame:
        def read() -> Frame:
            last = None
            for frame in film_frames(self.film, max(0.0, seconds - 1.5 / float(self.film.rate))):
                if frame.seconds > seconds + 1e-6 and last is not None:
                    return last
                last = frame
                if frame.seconds > seconds + 1e-6:
                    break
            if last is None:
                raise FilmError(f'"{self.film.path.name}" has no frame at {seconds:.2f} s')
            return last

        return self._keep("frame", seconds, read)

    def _table(self, told: FilmDescription, found: FoundScreen) -> KnobTable | None:
        knob = told.estimate
        if knob is None:
            return None
        settings = told.knobs.at(told.start)
        u = layout_for(found.state.screen_map, printed_grid(self._prepared.bench)).station_u
        key = (settings.turned(**{knob: 0.0}), knob, u.tobytes())
        return self._keep("table", key, lambda: knob_table(self._prepared, settings, knob, u))

    def _keep(self, name: str, key: Hashable, make: Callable[[], Kept]) -> Kept:
        """Give what was made for the same key the last time, or make it."""
        known = self._kept.get(name)
        if known is None or known[0] != key:
            known = self._kept[name] = key, make()
        kept: Kept = known[1]
        return kept


def _jpeg(pixels: Pixels) -> bytes:
    image = Image.fromarray(pixels)
    image.thumbnail((_WIDEST, _WIDEST))
    return _file_of(image)


def _file_of(image: Image.Image) -> bytes:
    file = io.BytesIO()
    image.save(file, "JPEG", quality=_QUALITY)
    return file.getvalue()
