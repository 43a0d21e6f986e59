"""What is laid over a frame: lines, numbers, forces and names, each said to be computed or read.

All that lies on the screen is drawn through the map of its own frame. Where the screen is lost
nothing is drawn on it, and it is said.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.computed_line import ComputedLine, computed_line
from glowtrace.bench.learning import Belief
from glowtrace.bench.prediction import predict
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.textbook import textbook_trace
from glowtrace.explain.account import Account
from glowtrace.films.film_reading import FilmReadings
from glowtrace.films.knob_estimate import Estimate
from glowtrace.films.knob_times import KNOBS, KnobTimes
from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.overlay import predicted_polylines
from glowtrace.report.caption import force_words
from glowtrace.report.clips.board import LETTERS, broken_lines
from glowtrace.report.clips.clip import Caption, Pixels
from glowtrace.report.clips.flight import Moment, followed_account, moment
from glowtrace.report.clips.slate import Head, Slate
from glowtrace.report.films.difference import Difference, difference_at
from glowtrace.report.films.part_names import part_places
from glowtrace.report.look import DARK
from glowtrace.units import format_quantity
from glowtrace.words.bench import bench_name, knob_short, model_caption

Array = NDArray[np.float64]

COMPUTED: Final = "#ff7ab8"
TEXTBOOK: Final = DARK.textbook
READ: Final = "#ffffff"
VELOCITY: Final = "#9fe8ff"
_UNITS: Final = {"accelerating_voltage": "V", "plate_voltage": "V", "coil_current": "A"}
_LOW: Final = 720
_WIDE: Final = 1280
_SMALL: Final = 20
"""Letters of what stands beside: smaller than captions, which are for the last row."""
_ROW: Final = 28
_EDGE: Final = 20
_GROUND: Final = 0.62
"""How dark the ground under words is."""
_FLIGHT_S: Final = 4.0
"""How long an electron flies where it is shown over the running film."""
_LONGEST: Final = 130
_LONGEST_NAME: Final = 46
_NO_FORCE: Final = 2e-17
"""N: where no force of a film is larger, its arrows are not drawn larger for that."""
_VELOCITY: Final = 90
_DOUBT: Final = 0.35
"""How strong the band of doubt is."""


class Line(NamedTuple):
    """A line of words, and the stroke or colour that it explains."""

    text: str
    colour: str = DARK.ink
    stroke: str = ""
    """"computed", "band", "textbook", "read", "electric", "magnetic" or "velocity"."""


@dataclass(frozen=True, eq=False)
class FilmOverlay:
    """Draws over the frames of a film."""

    prepared: PreparedBench
    readings: FilmReadings
    knobs: KnobTimes
    shows: tuple[str, ...]
    captions: tuple[Caption, ...] = ()
    estimates: Sequence[Estimate] = ()
    estimated: str = ""
    """Which knob the estimates are of."""
    belief: Belief | None = None
    """About the bench's numbers, for the band of doubt."""

    def draw(self, number: int, flight: float | None = None) -> Pixels:
        """Give what is laid over a frame (rows, columns, 4).

        Parameters
        ----------
        number
            Of the frame in the readings.
        flight
            Part of its flight, 0 to 1, that an electron has done while the frame stands still.
        """
        seconds = float(self.readings.seconds[number])
        slate = Slate(*self.readings.film.size)
        settings = self.settings(number)
        screen_map = self.readings.screen_map(number)
        lines, arrows = [Line(_shortened(bench_name(self.prepared.bench)))], []
        if screen_map is None:
            lines.append(Line("screen lost: nothing is drawn on it", DARK.textbook))
        else:
            lines += self._lines(slate, number, settings, screen_map)
            wants_forces = flight is not None or "forces" in self.shows
            if wants_forces and not self.why_no_line(number):
                way = (seconds / _FLIGHT_S) % 1.0 if flight is None else flight
                arrows = self._electron(slate, settings, screen_map, way, flight is not None)
        numbers = self._numbers(number, settings)
        self._put(slate, lines, arrows, numbers)
        if "parts" in self.shows and screen_map is not None:
            self._parts(slate, screen_map, max(len(lines), len(numbers)))
        spoken = [each.text for each in self.captions if each.start <= seconds < each.end]
        if spoken:
            self._caption(slate, spoken[-1])
        return slate.pixels()

    def settings(self, number: int) -> Settings:
        """Give the settings at a frame, with what was estimated."""
        settings = self.knobs.at(float(self.readings.seconds[number]))
        if self.estimated:
            found = self.estimates[number].value
            if math.isfinite(found):
                settings = settings.turned(**{self.estimated: found})
        return settings

    def why_no_line(self, number: int) -> str:
        """Say why no line is computed for a frame; empty where one is."""
        if self.estimated and not math.isfinite(self.estimates[number].value):
            return f"{knob_short(self.estimated)} is not told here: no line is computed"
        settings = self.settings(number)
        if settings.heater_on and settings.accelerating_voltage > 0.0:
            return ""
        return "no beam at these knobs: no line is computed"

    @cached_property
    def computed(self) -> Callable[[Settings], ComputedLine]:
        """Gives the line that the real fields make at some settings."""
        return lru_cache(8)(lambda settings: computed_line(self.prepared, settings))

    @cached_property
    def _accounts(self) -> Callable[[Settings], Account]:
        return lru_cache(8)(lambda settings: followed_account(self.prepared, settings, "bench"))

    @property
    def _unit(self) -> float:
        width, height = self.readings.film.size
        return min(height / _LOW, width / _WIDE)

    def _lines(
        self, slate: Slate, number: int, settings: Settings, screen_map: ScreenMap
    ) -> list[Line]:
        told, s, why_not = [], self._unit, self.why_no_line(number)
        if why_not and not {"textbook", "computed", "band"}.isdisjoint(self.shows):
            told.append(Line(why_not, DARK.quiet))
        if "band" in self.shows and not why_not:
            told.append(self._band(slate, settings, screen_map))
        if "textbook" in self.shows and not why_not:
            textbook = textbook_trace(self.prepared.bench, settings)
            for each in predicted_polylines(textbook, screen_map):
                slate.line(each, TEXTBOOK, max(1.4, 2.2 * s), dashes=_dashes(s))
            told.append(Line("textbook, " + model_caption("ideal"), TEXTBOOK, "textbook"))
        if "computed" in self.shows and not why_not:
            for each in predicted_polylines(self.computed(settings), screen_map):
                slate.line(each, COMPUTED, max(1.5, 2.4 * s))
            told.append(Line("computed, " + model_caption("bench"), COMPUTED, "computed"))
        if "read" in self.shows:
            heights = self.readings.heights[number]
            seen = np.isfinite(heights)
            places = np.column_stack([self.readings.u, np.where(seen, heights, 0.0)])
            pixels = screen_map.pixels(places)
            for run in np.split(np.arange(len(seen)), np.flatnonzero(np.diff(seen)) + 1):
                if seen[run[0]]:
                    slate.line(pixels[run], READ, max(1.5, 2.0 * s), dashes=_dots(s))
            words = "read off this frame"
            if not seen.any():
                words = "no line seen in this frame"
            elif self.readings.is_covered[number].any():
                words += ", part of it not seen"
            told.append(Line(words, READ, "read"))
        return told

    def _band(self, slate: Slate, settings: Settings, screen_map: ScreenMap) -> Line:
        """Draw where the computed line may lie, and say what it is."""
        outline = self._outlines(settings)
        if len(outline) < 3:
            known = self.belief is not None and self.belief.names
            why = "cannot be told here" if known else "not known of this bench"
            return Line(f"doubt about the computed line: {why}", DARK.quiet)
        u0, v0, u1, v1 = self.readings.grid.rectangle
        on_screen = np.clip(outline, [u0, v0], [u1, v1])
        slate.shape(screen_map.pixels(on_screen), COMPUTED, alpha=_DOUBT)
        return Line("where the computed line may lie, 95 %", COMPUTED, "band")

    @cached_property
    def _outlines(self) -> Callable[[Settings], Array]:
        def outline(settings: Settings) -> Array:
            if self.belief is None or not self.belief.names:
                return np.zeros((0, 2))
            return predict(self.prepared, settings, belief=self.belief).outline

        return lru_cache(8)(outline)

    def _numbers(self, number: int, settings: Settings) -> list[Line]:
        told = []
        if "numbers" in self.shows:
            for knob in self._knobs_here:
                told.append(Line(f"{knob_short(knob)} {self._told(knob, settings, number)}"))
        if "difference" in self.shows and not self.readings.is_lost[number]:
            found = self.difference(number, settings)
            told.append(Line(found.words if found else "no line to compare"))
        return told

    def difference(self, number: int, settings: Settings) -> Difference | None:
        """Give by how much the line that is read lies above the computed one."""
        if self.why_no_line(number):
            return None
        return difference_at(self.readings, number, self.computed(settings))

    @cached_property
    def _knobs_here(self) -> list[str]:
        bench = self.prepared.bench
        has = {"plate_voltage": bench.plates, "coil_current": bench.coils}
        return [knob for knob in KNOBS if has.get(knob, bench) is not None]

    def _told(self, knob: str, settings: Settings, number: int) -> str:
        """Give the value of a knob, and how it is known."""
        if knob == self.estimated:
            return self.estimates[number].words(_UNITS[knob])
        value = format_quantity(signed_knobs(settings)[knob], _UNITS[knob], 3, style="typeset")
        return value + self._how(knob)

    def _how(self, knob: str) -> str:
        if knob in self.knobs.turned:
            return " (between notes)" if self.knobs.between == "straight" else " (last note)"
        return ""

    def _electron(
        self, slate: Slate, settings: Settings, screen_map: ScreenMap, way: float, is_held: bool
    ) -> list[Line]:
        """Draw an electron on its way, with both forces and its velocity."""
        account, s = self._accounts(settings), self._unit
        begin, end = self._in_picture(account)
        now = moment(account, begin + way * (end - begin))
        plane = self.prepared.bench.plane
        place = np.column_stack(plane.coordinates(now.position[None]))
        at = screen_map.pixels(place)[0]
        size = max(float(np.abs(screen_map.slopes(place)).max()), 1e-9)
        told = []
        largest = max(self._largest, _NO_FORCE)
        for name, vector, scale, colour in (
            ("velocity", now.velocity, _VELOCITY * s / np.linalg.norm(now.velocity), VELOCITY),
            ("electric", now.electric, _LONGEST * s / largest, DARK.electric),
            ("magnetic", now.magnetic, _LONGEST * s / largest, DARK.magnetic),
        ):
            along = vector[[2 if plane.is_spot else 0, 1]] * scale
            tip = screen_map.pixels(place + along / size)[0]
            self._arrow(slate, at, tip, name, colour)
            told.append(Line(self._arrow_words(name, now), colour, name))
        slate.dot(float(at[0]), float(at[1]), 7 * s, "#ffffff", outline=DARK.halo, width=2 * s)
        if is_held:
            told.append(Line("film held, electron slowed down", DARK.quiet))
        return told

    def _arrow(
        self, slate: Slate, start: Array, end: Array, name: str, colour: str, wide: float = 6.0
    ) -> None:
        """Draw an arrow: of a velocity thin, of a magnetic force hollow."""
        width = (2.5 if name == "velocity" else wide) * self._unit
        head: Head = "open" if name == "magnetic" else "filled"
        slate.arrow(start, end, colour, width, head=head, ground=DARK.halo)

    def _arrow_words(self, name: str, now: Moment) -> str:
        if name == "velocity":
            return f"velocity {np.linalg.norm(now.velocity) / 1e6:.1f}·10⁶ m/s"
        force = now.electric if name == "electric" else now.magnetic
        return f"{name} force {force_words(float(np.linalg.norm(force)))}"

    def _in_picture(self, account: Account) -> tuple[float, float]:
        u, v = self.prepared.bench.plane.coordinates(account.position)
        u0, v0, u1, v1 = self.readings.grid.rectangle
        seen = np.flatnonzero((u >= u0) & (u <= u1) & (v >= v0) & (v <= v1))
        first, last = (seen[0], seen[-1]) if len(seen) else (0, -1)
        return float(account.time[first]), float(account.time[last])

    @cached_property
    def _largest(self) -> float:
        """The largest force in the film, N: all arrows have its scale."""
        stations = list(self.knobs.stations())
        sizes = np.nan_to_num([abs(each.value) for each in self.estimates])
        if len(sizes):
            stations.append(self.settings(int(sizes.argmax())))
        lit = [each for each in stations if each.heater_on and each.accelerating_voltage > 0.0]
        accounts = [self._accounts(settings) for settings in lit]
        forces = [f for each in accounts for f in (each.electric_force, each.magnetic_force)]
        return max((float(np.linalg.norm(force, axis=1).max()) for force in forces), default=0.0)

    def _parts(self, slate: Slate, screen_map: ScreenMap, rows: int) -> None:
        """Name parts beside the places where they are, or below the words that hide them."""
        s, (width, height) = self._unit, self.readings.film.size
        lowest = (2 * _EDGE + rows * _ROW) * s
        for name, u, v in part_places(self.prepared.bench):
            x, y = map(float, screen_map.pixels([[u, v]])[0])
            if not (0 < x < width and 0 < y < height):
                continue
            row = max(y, lowest)
            if row > y:
                slate.line(np.array([[x, lowest - 14 * s], [x, row]]), DARK.ink, 1.6 * s)
            else:
                slate.dot(x, y, 4 * s, DARK.ink)
            room = _written(name, _SMALL * s, DARK.ink).wide
            left = min(x + 10 * s, width - room - 8 * s)
            _ground(slate, left - 4 * s, row - 15 * s, left + room + 6 * s, row + 15 * s)
            self._write(slate, left, row, name, DARK.ink)

    def _put(self, slate: Slate, *blocks: Sequence[Line]) -> None:
        """Write blocks of lines at the top: at the left, in the middle and at the right."""
        s = self._unit
        indents = [56 * s if any(line.stroke for line in block) else 0.0 for block in blocks]
        left, middle, right = (
            indent
            + max(
                (_written(line.text, _SMALL * s, line.colour).wide for line in block), default=0.0
            )
            for indent, block in zip(indents, blocks, strict=True)
        )
        edge, end = _EDGE * s, slate.width - _EDGE * s - right
        begins = edge, edge + left + (end - edge - left - middle) / 2, end
        for begin, wide, indent, block in zip(
            begins, (left, middle, right), indents, blocks, strict=True
        ):
            bottom = edge + len(block) * _ROW * s
            if block:
                _ground(slate, begin - 8 * s, edge - 4 * s, begin + wide + 8 * s, bottom + 4 * s)
            for n, line in enumerate(block):
                y = edge + (n + 0.5) * _ROW * s
                if line.stroke:
                    self._sample(slate, line, begin, y)
                at = begin + (indent if line.stroke else 0.0)
                self._write(slate, at, y, line.text, line.colour)

    def _write(self, slate: Slate, x: float, y: float, text: str, colour: str) -> None:
        letters = _written(text, _SMALL * self._unit, colour).pixels
        slate.image(letters, round(x), round(y - letters.shape[0] / 2))

    def _sample(self, slate: Slate, line: Line, x: float, y: float) -> None:
        s = self._unit
        ends = np.array([[x, y], [x + 46 * s, y]])
        if line.stroke in ("electric", "magnetic", "velocity"):
            self._arrow(slate, ends[0], ends[1], line.stroke, line.colour, 4.0)
            return
        if line.stroke == "band":
            box = np.array(
                [[x, y - 7 * s], [x + 46 * s, y - 7 * s], [x + 46 * s, y + 7 * s], [x, y + 7 * s]]
            )
            slate.shape(box, line.colour, alpha=_DOUBT)
            return
        dashes = {"textbook": _dashes(s), "read": _dots(s)}.get(line.stroke, ())
        slate.line(ends, line.colour, 2.6 * s, dashes=dashes)

    def _caption(self, slate: Slate, text: str) -> None:
        s = self._unit
        rows = broken_lines(slate, text, 1.15 * LETTERS * s, 0.86 * slate.width)
        for n, row in enumerate(rows):
            y = slate.height - (30 + 44 * (len(rows) - n - 0.5)) * s
            half = slate.text_width(row, 1.15 * LETTERS * s) / 2 + 14 * s
            middle = slate.width / 2
            _ground(slate, middle - half, y - 22 * s, middle + half, y + 22 * s)
            slate.text(middle, y, row, 1.15 * LETTERS * s, DARK.ink, side="middle")


def signed_knobs(settings: Settings) -> dict[str, float]:
    """Give the knobs (SI), below 0 with the other polarity."""
    return {
        "accelerating_voltage": settings.accelerating_voltage,
        "plate_voltage": settings.signed_plate_voltage,
        "coil_current": settings.signed_coil_current,
    }


def _ground(slate: Slate, left: float, top: float, right: float, bottom: float) -> None:
    corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    slate.shape(corners, DARK.ground, alpha=_GROUND)


def _shortened(name: str) -> str:
    return name if len(name) <= _LONGEST_NAME else name[: _LONGEST_NAME - 1] + "…"


def _dots(unit: float) -> tuple[float, float]:
    return max(1.8, 2.5 * unit), max(2.2, 3.5 * unit)


def _dashes(unit: float) -> tuple[float, float]:
    return max(5.0, 9 * unit), max(3.5, 6 * unit)


class _Letters(NamedTuple):
    pixels: Pixels
    wide: float


@lru_cache(256)
def _written(text: str, size: float, colour: str) -> _Letters:
    """A line of words as pixels: most of them are the same in the next frame."""
    wide = Slate(1, 1).text_width(text, size)
    slate = Slate(math.ceil(wide) + 2, math.ceil(1.7 * size))
    slate.text(0.0, slate.height / 2, text, size, colour)
    return _Letters(slate.pixels().copy(), wide)
