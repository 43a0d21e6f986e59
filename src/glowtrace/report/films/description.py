"""The description of an annotated film: film, bench, knobs by time, what is shown."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from glowtrace.bench.parts import Part
from glowtrace.bench.ranges import Quantity
from glowtrace.bench.settings import Settings
from glowtrace.films.knob_times import KNOBS, Between, KnobTimes
from glowtrace.photographs.grid_points import GridPoint, grid_point

Time = Annotated[float, Quantity("s", "0 s", "86400 s")]
Stretch = Annotated[float, Quantity("s", "0.5 s", "120 s")]
Shows = Literal["computed", "band", "textbook", "read", "difference", "numbers", "forces", "parts"]
Turned = Literal["accelerating_voltage", "plate_voltage", "coil_current"]

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


class ShotTime(Part):
    """Where a shot of a shot list begins in the film."""

    number: Annotated[int, Field(ge=1)]
    time: Time


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
    shots: str | None = None
    """Path of a shot list or a plan as JSON: it gives knobs, captions and chapters."""
    shot: Annotated[tuple[ShotTime, ...], Field(strict=False)] = ()

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
