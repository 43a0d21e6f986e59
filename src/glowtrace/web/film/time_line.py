"""The time line of a film as an element of the page."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable, Iterator
from typing import Any

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.films.film_file import Film
from glowtrace.report.films.description import FilmDescription


class TimeLine(ui.element, component="time_line.js"):
    """Small pictures, the cut, marks, and a pointer that is moved.

    Parameters
    ----------
    film
        Whose time it is.
    at
        Where the pointer is first, in s.
    on_move
        Called with the time, in s.
    """

    def __init__(self, film: Film, at: float, on_move: Callable[[float], object]) -> None:
        super().__init__()
        self._film = film
        self.props["seconds"] = film.seconds
        self.props["step"] = round(1 / float(film.rate), 4)
        self.props["first"] = at
        self.props["marks"] = []
        self.props["start"], self.props["end"] = 0.0, film.seconds
        self.on("at", lambda event: on_move(_time_of(event)))

    def put_strip(self, jpeg: bytes) -> None:
        """Show small pictures along it."""
        self.props["strip"] = f"data:image/jpeg;base64,{b64encode(jpeg).decode('ascii')}"

    def put(self, told: FilmDescription) -> None:
        """Show the cut and the marks of a description."""
        self.props["start"] = told.start
        end = self._film.seconds if told.end is None else min(told.end, self._film.seconds)
        self.props["end"] = end
        self.props["marks"] = list(_marks(told))
        self.update()

    def go(self, seconds: float) -> None:
        """Move the pointer."""
        self.run_method("put", seconds)


def _marks(told: FilmDescription) -> Iterator[dict[str, Any]]:
    for moment in told.moment:
        yield {"at": moment.time, "kind": "knobs", "says": "knobs noted"}
    for caption in told.caption:
        yield {"at": caption.start, "kind": "words", "says": caption.text}
    for chapter in told.chapter:
        yield {"at": chapter.time, "kind": "words", "says": chapter.title}
    for hold in told.hold:
        yield {"at": hold.time, "kind": "held", "says": "held"}
    for still in told.stills:
        yield {"at": still, "kind": "held", "says": "still picture"}


def _time_of(event: GenericEventArguments) -> float:
    return float(event.args)
