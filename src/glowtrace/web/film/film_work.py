"""An opened film on the page: its description, and where the time line's pointer stands."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.films.film_file import Film, open_film
from glowtrace.report.films.description import USUAL, FilmDescription, Shows
from glowtrace.report.films.description_file import require_sound
from glowtrace.web.film.film_desk import FilmDesk
from glowtrace.web.film.film_shelf import FilmShelf

_LINE_ONLY: Final = ("read", "difference")


class FilmWork:
    """What the parts of the page share.

    Parameters
    ----------
    shelf, key
        Where it is kept.
    told
        The description.
    prepared
        Its bench.
    """

    def __init__(
        self, shelf: FilmShelf, key: str, told: FilmDescription, prepared: PreparedBench
    ) -> None:
        self.shelf, self.key, self.told, self.prepared = shelf, key, told, prepared
        self.film: Film = open_film(Path(told.film))
        self.desk = FilmDesk(self.film, prepared)
        self.at = told.start
        self.on_change: Callable[[], object] = lambda: None
        shelf.keep(key, told)

    @classmethod
    def opened(
        cls, shelf: FilmShelf, key: str, prepared: PreparedBench, settings: Settings
    ) -> FilmWork:
        """Take a film from the shelf onto the bench and settings of the page.

        Raises
        ------
        GlowtraceError
            It is not kept any more, or cannot be read.
        """
        bench = prepared.bench
        told = shelf.load(key) or first_description(shelf.sent(key), bench, settings)
        told = told.model_copy(
            update={
                "bench": bench.name,
                "settings": settings,
                "shows": tuple(name for name in told.shows if name in shows_of(bench)),
            }
        )
        return cls(shelf, key, told, prepared)

    def change(self, **changes: Any) -> None:
        """Change the description, and keep it.

        Raises
        ------
        BenchError
            It would contradict itself; nothing is changed.
        """
        told = self.told.model_copy(update=changes)
        require_sound(told)
        self.told = told
        self.shelf.keep(self.key, told)
        self.on_change()

    @property
    def end(self) -> float:
        """Of the cut, in s."""
        return self.film.seconds if self.told.end is None else self.told.end


def first_description(film: Path, bench: Bench, settings: Settings) -> FilmDescription:
    """Describe a film of which nothing is known yet."""
    shows = tuple(name for name in USUAL if name in shows_of(bench))
    return FilmDescription(film=str(film), bench=bench.name, settings=settings, shows=shows)


def shows_of(bench: Bench) -> dict[Shows, str]:
    """Give what can be laid over a film of a bench, with its words."""
    words: dict[Shows, str] = {
        "computed": "computed line",
        "band": "its band of doubt",
        "textbook": "the textbook’s line",
        "read": "line read in each frame",
        "difference": "read − computed",
        "numbers": "knobs",
        "forces": "forces and velocity at an electron",
        "parts": "names of parts",
    }
    is_line = bench.plane.is_line
    return {name: text for name, text in words.items() if is_line or name not in _LINE_ONLY}
