"""What the audience sees: one value, kept for windows that come later, told to all that follow.

The desk puts pictures in, the last one counts. Windows take the newest parts as fast as they can
draw them; none of them holds up the desk.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, Final, Literal

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import knobs_of
from glowtrace.bench.settings import Settings
from glowtrace.lesson.shown import NOTHING_SHOWN, LessonShown
from glowtrace.web.audience.lesson_part import lesson_part
from glowtrace.web.audience.letters import letter_share, reading_distance
from glowtrace.web.naming import knob_text
from glowtrace.web.surface import surface_of
from glowtrace.words.bench import knob_short

Look = Literal["dark", "light"]
Place = tuple[float, float]
Part = Mapping[str, Any]

USUAL_WIDTH: Final = 2.0
"""Width of a projected picture, m: common practice, no source."""
NARROWEST: Final = 0.2
WIDEST: Final = 30.0
_NO_CAMERA: Final[Mapping[str, Part | None]] = {"camera": None}
WIDTH: Final = "picture's width"
"""Under which it is remembered."""


@dataclass(frozen=True)
class Manner:
    """How the picture is shown.

    Attributes
    ----------
    is_blank
        Nothing but the ground.
    look
        Light in the dark, or ink on a light ground for a bright room.
    has_textbook
        The textbook's trace lies over the glow.
    distance, width
        From the picture to the last row, and of the whole picture, m.
    """

    is_blank: bool = False
    look: Look = "dark"
    has_textbook: bool = False
    distance: float = 6.0
    width: float = USUAL_WIDTH


class Window:
    """One audience window: what it has been sent, and whether it has drawn it."""

    def __init__(self) -> None:
        self.changed = asyncio.Event()
        self.changed.set()
        self.drawn = asyncio.Event()
        self.letter: float = 0.0
        """Height of its figures as a share of the picture's width, as it says; 0 before it does."""
        self._sent: dict[str, Part | None] = {}

    def take(self, parts: Mapping[str, Part | None]) -> dict[str, Part | None]:
        """Give the parts that it has not been sent yet, and count them as sent."""
        self.changed.clear()
        new = {name: part for name, part in parts.items() if self._sent.get(name, ...) is not part}
        self._sent.update(new)
        return new


class Audience:
    """What the audience sees, for the whole server.

    Parameters
    ----------
    width
        Of the whole projected picture at first, m.
    """

    def __init__(self, width: float = USUAL_WIDTH) -> None:
        self._manner = Manner(width=width)
        self._live: dict[str, Part | None] = {"surface": None, "knobs": None, "picture": None}
        self._camera_page = ""
        self._camera = dict(_NO_CAMERA)
        self._held: dict[str, Part | None] | None = None
        self._pointer: Part | None = None
        self._lesson = lesson_part(NOTHING_SHOWN)
        self._told_manner = _told(self._manner)
        self._bench: Bench | None = None
        self._windows: list[Window] = []
        self._listeners: list[Callable[[], None]] = []

    # ---- the desk's side -------------------------------------------------------------------------

    @property
    def manner(self) -> Manner:
        """How the picture is shown."""
        return self._manner

    @property
    def is_held(self) -> bool:
        """Whether the picture stands still while the desk goes on."""
        return self._held is not None

    @property
    def is_turning(self) -> bool:
        """Whether the next picture comes soon: a knob turns, or a camera is shown."""
        parts = self.parts()
        picture = parts["picture"]
        is_turned = picture is not None and not picture.get("resting", True)
        return is_turned or parts["camera"] is not None

    @property
    def windows(self) -> int:
        """How many audience windows there are."""
        return len(self._windows)

    @property
    def readable_from(self) -> float | None:
        """Distance in m from which the letters of every window are read; None before any says."""
        letters = [window.letter for window in self._windows if window.letter > 0.0]
        return reading_distance(min(letters) * self._manner.width) if letters else None

    def show_picture(self, bench: Bench, settings: Settings, message: Part) -> None:
        """Show a picture with the knobs that made it.

        Parameters
        ----------
        bench, settings
            What the picture is of.
        message
            As `glowtrace.web.glow.glow_message` gives it.
        """
        if bench != self._bench:
            self._bench = bench
            self._live = {**self._live, "surface": asdict(surface_of(bench))}
            self._pointer = None
        knobs = _knobs(bench, settings)
        if knobs != self._live["knobs"]:
            self._live = {**self._live, "knobs": knobs}
        self._live = {**self._live, "picture": message}
        if not self.is_held:
            self._tell_windows()

    def show_camera(self, page: str, bench: Bench, settings: Settings) -> None:
        """Show a page's camera with these knobs in place of what is computed; the last page counts.

        Until its first picture comes, what is computed stays.
        """
        picture = self._camera["camera"] if page == self._camera_page else None
        self._camera_page = page
        self._camera = {
            "surface": asdict(surface_of(bench)),
            "knobs": _knobs(bench, settings),
            "camera": picture,
        }
        self._tell_windows()

    def turn_camera(self, page: str, bench: Bench, settings: Settings) -> None:
        """Show other knobs beside a page's camera, if it is the one that is shown."""
        if page == self._camera_page:
            self.show_camera(page, bench, settings)

    def put_camera(self, page: str, picture: str | None) -> None:
        """Show the next picture of a page's camera, the address of an image; None: it has none."""
        if not page or page != self._camera_page:
            return
        self._camera["camera"] = None if picture is None else {"picture": picture}
        if not self.is_held:
            self._tell_windows()

    def end_camera(self, page: str) -> None:
        """Show what is computed again, if this page's camera was shown."""
        if page == self._camera_page:
            self._camera_page, self._camera = "", dict(_NO_CAMERA)
            self._tell_windows()

    def show_lesson(self, shown: LessonShown) -> None:
        """Lay over the picture what a lesson shows; `NOTHING_SHOWN` takes it away."""
        self._lesson = lesson_part(shown)
        self._tell_windows()

    def change(self, **changes: Any) -> None:
        """Change the manner, by the names of its attributes."""
        self._manner = replace(self._manner, **changes)
        self._told_manner = _told(self._manner)
        self._tell_windows()
        self._tell_desks()

    def blank(self, is_wanted: bool) -> None:
        """Show nothing, or the picture again."""
        self.change(is_blank=is_wanted)

    def hold(self, is_wanted: bool) -> None:
        """Let the picture stand still, or follow the desk again."""
        self._held = self._content() if is_wanted else None
        self._tell_windows()
        self._tell_desks()

    def point(self, place: Place | None) -> None:
        """Point at a place (u, v) of the picture, in m; None points nowhere."""
        self._pointer = None if place is None else {"u": 1e3 * place[0], "v": 1e3 * place[1]}
        self._tell_windows()

    def listen(self, call: Callable[[], None]) -> Callable[[], None]:
        """Have something called when manner, windows or letters change; the answer ends it."""
        self._listeners.append(call)
        return lambda: self._listeners.remove(call)

    # ---- the windows' side -----------------------------------------------------------------------

    def parts(self) -> dict[str, Part | None]:
        """Give all that a window shows, by name; a part that has not changed is the same object."""
        content = self._content() if self._held is None else self._held
        return {
            **content,
            "pointer": self._pointer,
            "lesson": self._lesson,
            "manner": self._told_manner,
        }

    def _content(self) -> dict[str, Part | None]:
        """Give what is computed, or seen by a camera; not where a question must not be answered."""
        if self._camera["camera"] is None or self._lesson["hides"]:
            return {**self._live, "camera": None}
        return {**self._live, **self._camera}

    def join(self) -> Window:
        """Take in a window."""
        window = Window()
        self._windows.append(window)
        self._tell_desks()
        return window

    def leave(self, window: Window) -> None:
        """Let a window go."""
        self._windows.remove(window)
        self._tell_desks()

    def note_letter(self, window: Window, letter: float) -> None:
        """Note how high a window's figures are, as a share of the picture's width."""
        if window.letter != letter:
            window.letter = letter
            self._tell_desks()

    def _tell_windows(self) -> None:
        for window in self._windows:
            window.changed.set()

    def _tell_desks(self) -> None:
        for call in tuple(self._listeners):
            call()


def _told(manner: Manner) -> Part:
    return {
        "blank": manner.is_blank,
        "look": manner.look,
        "textbook": manner.has_textbook,
        "letter": letter_share(manner.distance, manner.width),
    }


def _knobs(bench: Bench, settings: Settings) -> Part:
    """Give the knobs as they are set, under short names, with what is switched otherwise."""
    reversed_knobs = {
        "plate_voltage": settings.plate_reversed,
        "coil_current": settings.coil_reversed,
    }
    rows = [
        {
            "name": knob_short(knob),
            "value": knob_text(knob, float(getattr(settings, knob))),
            "note": "reversed" if reversed_knobs.get(knob) and getattr(settings, knob) else "",
        }
        for knob in knobs_of(bench)
    ]
    if not settings.heater_on:
        rows[0]["note"] = "heater off"
    return {"rows": rows}
