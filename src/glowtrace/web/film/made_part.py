"""Film: the annotated film, its table and pictures, made beside the page."""

from __future__ import annotations

import importlib.util
import shutil
from functools import partial
from pathlib import Path
from typing import Final

from nicegui import ui

from glowtrace.report.films.description import FilmDescription
from glowtrace.report.films.film_table import save_film_table
from glowtrace.report.films.making import (
    AnnotatedFilm,
    expected_words,
    made_words,
    read_described,
    save_still,
    still_name,
    write_film,
)
from glowtrace.watching import Cancelled, Progress, Watch
from glowtrace.web.controls import box, hint, words
from glowtrace.web.film.film_shelf import DESCRIPTION, FILM, MADE, PATH, TABLES
from glowtrace.web.film.film_work import FilmWork
from glowtrace.web.frame import Frame
from glowtrace.web.handouts.making import Making
from glowtrace.web.served import SAVE

TABLE_SHARE: Final = 0.97
"""Part of the work after which the tables are written."""


class MadePart:
    """The part of the page."""

    def __init__(self, frame: Frame, work: FilmWork) -> None:
        self._frame, self._work = frame, work
        words("Annotated film", "h2")
        self._time = hint("")
        self._making = Making("Make the film", self._make)
        self._shown = box("stack film-made")
        description = words("Save the description", "a", "plain").props("download")
        description.props["href"] = f"{PATH}/{work.key}/{DESCRIPTION}?{SAVE}=1"
        hint("With it the command “glowtrace film” makes the same.")
        self._told: FilmDescription | None = None
        self.show()

    def show(self) -> None:
        """Take away what was made where it is not what is told any more; say how long it takes."""
        if self._told is not None and self._told != self._work.told:
            self._told = None
            self._shown.clear()
        work = self._work
        self._time.text = expected_words(work.film, work.end - work.told.start)

    async def _make(self) -> None:
        work, told = self._work, self._work.told
        if "band" in told.shows:  # once: how the line answers to the bench's numbers
            await self._frame.rack.believe(work.prepared)
        folder = work.shelf.folder(work.key) / MADE
        made = await self._making.run(partial(make_all, told, work, folder))
        if made is not None and told == self._work.told:
            self._told = told
            self._put(made, folder)

    def _put(self, made: AnnotatedFilm, folder: Path) -> None:
        base = f"{PATH}/{self._work.key}"
        version = (folder / FILM).stat().st_mtime_ns
        self._shown.clear()
        with self._shown:
            video = ui.element("video").props("controls playsinline preload=metadata")
            video.props["src"] = f"{base}/{FILM}?{version}"
            video.props["aria-label"] = "The annotated film"
            for line in made_words(made):
                words(line, "p")
            with box("ways-on"):
                stills = (still_name(FILM, time) for time in made.description.stills)
                for name in (FILM, *TABLES, *stills):
                    if (folder / name).exists():
                        link = words(name, "a", "key").props("download")
                        link.props["href"] = f"{base}/{name}?{SAVE}=1"


def make_all(
    told: FilmDescription, work: FilmWork, folder: Path, note: Progress, cancelled: Cancelled
) -> AnnotatedFilm:
    """Make film, tables and pictures into a folder; what was begun before is gone on with."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    part = Watch(note, cancelled, 0.0, TABLE_SHARE).note
    made = read_described(told, work.prepared, progress=part, cancelled=cancelled)
    write_film(folder / FILM, made, progress=part, cancelled=cancelled)
    for name in TABLES:
        if name.endswith(".csv") or importlib.util.find_spec("pyarrow"):
            note(TABLE_SHARE, "writing the table")
            save_film_table(folder / name, made.overlay)
    for time in told.stills:
        save_still(folder / still_name(FILM, time), made, time)
    return made
