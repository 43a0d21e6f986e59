"""The description of an annotated film: film, bench, knobs by time, what is shown."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field

from glowtrace.bench.files import Form, load_marked
from glowtrace.bench.model import Bench
from glowtrace.bench.parts import Part
from glowtrace.bench.ranges import Quantity
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError, Problem
from glowtrace.films.knob_times import KNOBS, Between, KnobTimes
from glowtrace.photographs.grid_points import GridPoint, grid_point
from glowtrace.units import QuantityError, exact_text

Time = Annotated[float, Quantity("s", "0 s", "86400 s")]
Stretch = Annotated[float, Quantity("s", "0.5 s", "120 s")]
Shows = Literal["computed", "textbook", "read", "difference", "numbers", "forces", "parts"]
Turned = Literal["accelerating_voltage", "plate_voltage", "coil_current"]

_FORM: Final = Form("film", "glowtrace-film 1")
USUAL: Final[tuple[Shows, ...]] = ("computed", "read", "numbers", "difference")


class Moment(Part):
    """A time at which knobs were noted."""

    time: Time
    accelerating_voltage: Annotated[float, Quantity("V", "0 V", "60 kV")] | None = None
    plate_voltage: Annotated[float, Quantity("V", "-60 kV", "60 kV")] | None = None
    coil_current: Annotated[float, Quantity("A", "-100 A", "100 A")] | None = None

    @property
    def knobs(self) -> dict[str, float]:
        """Those that were noted."""
        noted = {knob: getattr(self, knob) for knob in KNOBS}
        return {knob: value for knob, value in noted.items() if value is not None}


class Words(Part):
    """A caption."""

    start: Time
    end: Time
    text: str


class Chapter(Part):
    """Where a chapter begins."""

    time: Time
    title: str


class Hold(Part):
    """A frame that stands still while an electron flies, slowed down."""

    time: Time
    seconds: Stretch


class FilmDescription(Part):
    """All that an annotated film is made from. Times are those of the film as it was taken."""

    film: str
    """Path of the film; of a relative one from the folder of the description."""
    bench: str
    start: Time = 0.0
    end: Time | None = None
    points: Annotated[tuple[str, ...], Field(strict=False)] = ()
    """Crossings of the grid in the first frame: "20 mm, -10 mm = 812, 1433"."""
    settings: Settings
    between: Between = "straight"
    moment: Annotated[tuple[Moment, ...], Field(strict=False)] = ()
    estimate: Turned | None = None
    """A knob that is not known, and is found from the line in each frame."""
    shows: Annotated[tuple[Shows, ...], Field(strict=False)] = USUAL
    caption: Annotated[tuple[Words, ...], Field(strict=False)] = ()
    burnt_in: bool = False
    """Whether captions are drawn into the picture, beside the track that has them always."""
    chapter: Annotated[tuple[Chapter, ...], Field(strict=False)] = ()
    hold: Annotated[tuple[Hold, ...], Field(strict=False)] = ()
    stills: Annotated[tuple[Time, ...], Field(strict=False)] = ()

    @property
    def knobs(self) -> KnobTimes:
        """The knobs by time."""
        ordered = sorted(self.moment, key=lambda moment: moment.time)
        moments = tuple((each.time, each.knobs) for each in ordered)
        return KnobTimes(self.settings, moments, self.between)

    @property
    def grid_points(self) -> tuple[GridPoint, ...]:
        """The crossings that were told."""
        return tuple(map(grid_point, self.points))


def load_description(path: str | os.PathLike[str]) -> FilmDescription:
    """Read the description of a film.

    Raises
    ------
    BenchError
        It cannot be read, is no TOML, is of another format, or has wrong fields: all together.
    """
    place = Path(path)
    found = load_marked(FilmDescription, _FORM, place)
    problems = [*_wrong_times(found), *_wrong_points(found)]
    if problems:
        raise BenchError(f'film file "{place}"', problems)
    return found.model_copy(update={"film": str(place.parent / found.film)})


def require_fitting(description: FilmDescription, bench: Bench) -> None:
    """Refuse settings that the bench's ratings forbid, at whatever moment.

    Raises
    ------
    BenchError
        Naming each of them.
    """
    stations = description.knobs.stations()
    problems = [each for settings in stations for each in check_settings(bench, settings)]
    if problems:
        raise BenchError("the film's settings", list(dict.fromkeys(problems)))


def _wrong_times(found: FilmDescription) -> Iterator[Problem]:
    if found.end is not None and found.end <= found.start:
        allowed = f"give a time after the start, {exact_text(found.start, 's')}"
        yield Problem("end", exact_text(found.end, "s"), allowed)
    for each in found.caption:
        if each.end <= each.start:
            allowed = f"give a time after its start, {exact_text(each.start, 's')}"
            yield Problem("caption: end", exact_text(each.end, "s"), allowed)
    times = [moment.time for moment in found.moment]
    for time in {time for time in times if times.count(time) > 1}:
        yield Problem("moment: time", exact_text(time, "s"), "give each moment once")
    if found.estimate is not None and found.estimate in found.knobs.turned:
        allowed = "leave it out of the moments, or do not have it estimated"
        yield Problem("estimate", f'"{found.estimate}"', allowed)


def _wrong_points(found: FilmDescription) -> Iterator[Problem]:
    for text in found.points:
        try:
            grid_point(text)
        except (ValueError, QuantityError):
            wanted = 'give a crossing and its pixel, as in "20 mm, -10 mm = 812, 1433"'
            yield Problem("points", f'"{text}"', wanted)
