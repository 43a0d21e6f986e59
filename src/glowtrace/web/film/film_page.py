"""Film: a film of the screen with lines, numbers and forces laid over it, to take away."""

from __future__ import annotations

import asyncio
import importlib.util
from base64 import b64encode
from functools import partial

from nicegui import background_tasks, ui

from glowtrace.errors import MissingPackageError
from glowtrace.report.films.description import FilmDescription
from glowtrace.web.controls import Switch, box, button, hint, words
from glowtrace.web.film.film_shelf import FilmShelf
from glowtrace.web.film.film_work import FilmWork, shows_of
from glowtrace.web.film.knobs_part import KnobsPart
from glowtrace.web.film.made_part import MadePart
from glowtrace.web.film.open_part import OPENED, OpenPart
from glowtrace.web.film.screen_part import ScreenPart
from glowtrace.web.film.shots_part import ShotsPart
from glowtrace.web.film.time_line import TimeLine
from glowtrace.web.film.words_part import WordsPart
from glowtrace.web.frame import Frame
from glowtrace.web.measure.photograph_desk import sentence
from glowtrace.web.plan.plan_cache import PlanCache
from glowtrace.web.refresh import Refresh, Request


class FilmPage:
    """The page.

    Parameters
    ----------
    frame
        Around it.
    shelf, plans
        Films that were opened, and plans that were made.
    key
        Of the film that is open; empty for none.
    """

    def __init__(self, frame: Frame, shelf: FilmShelf, plans: PlanCache, key: str) -> None:
        self._frame, self._shelf, self._plans, self._key = frame, shelf, plans, key
        self._drawn: tuple[FilmDescription, float] | None = None
        self._refresh = Refresh(self._draw)
        with frame.body.classes("film"):
            if importlib.util.find_spec("av") is None:
                words(sentence(MissingPackageError("Films", "av", "clips")), "p", "large")
                self._key = ""
                return
            self._open = OpenPart(frame, shelf, key)
            self._shown = box("columns film-table")
            if not key:
                hint(
                    "The film stays on this computer and is never changed. Film the whole screen, "
                    "with a little light on its printed grid."
                )

    async def run(self) -> None:
        """Open the film and keep the picture in step with all that is told, until cancelled."""
        if not self._key:
            return
        frame = self._frame
        prepared = await frame.prepared()
        if prepared is None:
            return
        settings = frame.preparation.settings
        work = await frame.compute(
            "Opening the film",
            lambda: FilmWork.opened(self._shelf, self._key, prepared, settings),
        )
        if work is None:
            return
        self._work = work
        self._open.tell(work.film)
        with self._shown:
            self._put_on_page(work)
        work.on_change = self._changed
        frame.keep(frame.preparation, f"&{OPENED}={self._key}")
        self._changed()
        background_tasks.create(self._put_strip(), name="strip")
        await self._refresh.run()

    def _put_on_page(self, work: FilmWork) -> None:
        frame = self._frame
        with box("stack film-seen"):
            picture = box("film-picture")
            with picture:
                self._image = ui.element("img").props('alt="A frame of the film"')
            self._trouble = words("", "p", "field-complaint").props('role="alert"')
            self._line = TimeLine(work.film, work.at, self._move)
            with box("ways-on"):
                button("Cut in here", lambda: self._cut(start=round(work.at, 3)))
                button("Cut out here", lambda: self._cut(end=round(work.at, 3)))
                button("Whole film", lambda: self._cut(start=0.0, end=None), "plain")
            self._made = MadePart(frame, work)
        with box("stack film-told"):
            self._screen = ScreenPart(frame, work, picture, self._click)
            self._knobs = KnobsPart(frame, work)
            self._shots = ShotsPart(frame, work, self._plans, self._take_over)
            words("Laid over", "h2")
            with box("film-shows"):
                for name, text in shows_of(frame.bench).items():
                    switch = Switch(text, partial(self._show, name))
                    switch.put(name in work.told.shows)
            self._words = WordsPart(work)

    # ---- what is told ----------------------------------------------------------------------------

    def _changed(self) -> None:
        self._frame.say("")
        self._line.put(self._work.told)
        self._made.show()
        self._refresh.ask()

    def _move(self, seconds: float) -> None:
        self._work.at = seconds
        self._refresh.ask()

    def _cut(self, **cut: float | None) -> None:
        with self._frame.telling():
            self._work.change(**cut)

    def _show(self, name: str, is_on: bool) -> None:
        shown = {*self._work.told.shows, name} if is_on else {*self._work.told.shows} - {name}
        ordered = tuple(each for each in shows_of(self._frame.bench) if each in shown)
        self._work.change(shows=ordered)

    def _take_over(self) -> None:
        self._knobs.show()
        self._words.show()

    def _click(self, is_clicking: bool) -> None:
        self._image.set_visibility(not is_clicking)

    # ---- what is seen ----------------------------------------------------------------------------

    async def _draw(self, _: Request) -> None:
        work = self._work
        told, at, desk = work.told, work.at, work.desk
        if self._drawn == (told, at):
            return
        if "band" in told.shows:
            with self._frame.telling():
                await self._frame.rack.believe(work.prepared)
        look = await self._frame.rack.compute(lambda: desk.annotated(told, at))
        self._drawn = told, at
        self._image.props["src"] = f"data:image/jpeg;base64,{b64encode(look.jpeg).decode('ascii')}"
        self._image.update()
        self._trouble.text = sentence(look.trouble)
        self._screen.tell(look.trust)

    async def _put_strip(self) -> None:
        strip = await asyncio.to_thread(self._work.desk.strip)
        self._line.put_strip(strip)
        self._line.update()
