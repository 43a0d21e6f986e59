"""One visitor's table: a bench, its knobs, and everything that shows what they do."""

from __future__ import annotations

import asyncio
import json
import logging
from dataclasses import replace
from typing import Final

from nicegui import background_tasks, ui

from glowtrace.bench.files import bench_from_toml
from glowtrace.bench.model import Bench, EndFace, Sheet
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError, GlowtraceError, Problem, StoreError
from glowtrace.report.caption import accuracy_words
from glowtrace.store import SavedSettings
from glowtrace.units import QuantityError, parse_quantity
from glowtrace.web.controls import box, words
from glowtrace.web.header import LARGEST_FILE, Header
from glowtrace.web.opening import opening_settings
from glowtrace.web.painter import Painter
from glowtrace.web.panel import Panel
from glowtrace.web.preparation import Preparation
from glowtrace.web.rack import Build, Rack
from glowtrace.web.readings import ReadingList
from glowtrace.web.refresh import Refresh, Request
from glowtrace.web.room_switch import RoomSwitch
from glowtrace.web.saved import SavedDialog
from glowtrace.web.screen import GriddedScreen
from glowtrace.web.showing import Setup
from glowtrace.web.surface import screen_place_of_x, surface_of, x_of_screen_place
from glowtrace.web.tube import TubeView

CAUTION: Final = (
    "Caution: these tubes work with dangerous voltages and hot parts, and their glass can implode. "
    "Local rules and the person responsible decide what may be switched on."
)


class Table:
    """What one visitor sees. Building it puts it on the page.

    Parameters
    ----------
    rack
        The benches.
    preparation, bench
        What the visitor comes with, and the bench that stands on the table first.
    """

    def __init__(self, rack: Rack, preparation: Preparation, bench: Bench) -> None:
        self._rack = rack
        self._preparation = preparation
        self._place, self._bench, self._wanted = preparation.place, bench, bench
        self._settings = preparation.settings
        self._model: Model = "bench"
        self._chosen_x = _first_place(bench)
        self._prepared: PreparedBench | None = None
        self._refresh = Refresh(self._draw)
        with box("page", "main") as self._page:
            self._put_on_page()
        self._set_up()

    def _put_on_page(self) -> None:
        saved = SavedDialog(self._rack.store, self._save, self._reopen)
        self._header = Header(self._pick, self._open_file, saved.open)
        self._screen = GriddedScreen(surface_of(self._bench), self._choose)
        with self._screen, box("progress") as self._progress:
            self._progress_text = words("", "p").props('role="status"')
            self._progress_bar = ui.element("progress").props('max="1" aria-label="Fields built"')
        self._progress.set_visibility(False)
        self._panel = Panel(self._bench, self._settings, self._turned)
        with box("side", "aside"):
            self._tube = TubeView()
            self._readings = ReadingList(self._type_place, self._choose_model)
            self._room_switch = RoomSwitch(self._preparation, self._bench, self._show_in_room)
            with box("fold about", "details"):
                words("About this bench", "summary")
                self._about = words("", "p")
        words(CAUTION, "p", "caution")
        self._painter = Painter(self._rack, self._screen, self._readings, self._tube)

    async def run(self) -> None:
        """Build the fields, then keep the picture in step with the knobs, until cancelled."""
        background_tasks.create(self._prepare(self._bench, None, self._place))
        await self._refresh.run()

    # ---- benches ---------------------------------------------------------------------------------

    def _set_up(self) -> None:
        """Show the bench that stands on the table, before its first picture."""
        bench = self._bench
        if bench.plates is None:
            self._page.classes(add="is-without-plates")
        else:
            self._page.classes(remove="is-without-plates")
        self._screen.set_surface(surface_of(bench))
        self._panel.put(bench, self._settings)
        self._readings.set_up(bench, self._model)
        self._room_switch.put(self._preparation, bench)
        self._about.text = " ".join(bench.notes.split())
        self._header.steps.put(self._preparation.moved_to(self._place, self._settings).query)
        self._offer()
        self._put_place(self._chosen_x)

    def _offer(self) -> None:
        try:
            groups = self._rack.offer()
        except StoreError as error:
            self.say(str(error))
            groups = {}
        self._header.offer(groups, self._place, "an invented bench" if self._bench.invented else "")

    async def _prepare(self, bench: Bench, settings: Settings | None, place: str) -> None:
        """Build the bench's fields and put it on the table; None keeps the settings there."""
        self._wanted = bench
        try:
            prepared = await self._watch(self._rack.build(bench))
        except GlowtraceError as error:
            self._refuse(str(error))
            return
        except Exception as error:  # a defect in the field code must not leave a waiting page
            logging.getLogger(__name__).exception("fields could not be built")
            self._refuse(f"The fields of this bench could not be built: {error}")
            return
        if self._wanted is not bench:  # another one was picked meanwhile
            return
        if bench != self._bench:
            self._chosen_x = _first_place(bench)
        self._bench, self._place, self._prepared = bench, place, prepared
        if settings is not None:
            self._settings = settings
            self._set_up()
        accuracy = accuracy_words(prepared.fields.accuracy, bench)
        self._about.text = f"{' '.join(bench.notes.split())} {accuracy}"
        self._tube.set_up(bench, surface_of(bench).glow)
        self._refresh.ask()

    def _refuse(self, text: str) -> None:
        """Say why a bench cannot come on the table, and let the menu show the one that stays."""
        self.say(text)
        self._offer()

    async def _watch(self, build: Build) -> PreparedBench:
        """Show how far a build is until it is done."""
        while not build.task.done():
            self._progress.set_visibility(True)
            self._progress_text.text = f"{build.progress.text.capitalize()} …"
            self._progress_bar.props["value"] = build.progress.share
            await asyncio.wait({build.task}, timeout=0.1)
        self._progress.set_visibility(False)
        return build.task.result()

    async def _show(self, bench: Bench, settings: Settings, place: str) -> None:
        self.say("")
        await self._prepare(bench, settings, place)

    async def _pick(self, place: str) -> None:
        try:
            bench = self._rack.bench(place)
        except GlowtraceError as error:
            self._refuse(str(error))
            return
        await self._show(bench, opening_settings(bench), place)

    async def _open_file(self, name: str, text: str | None) -> None:
        subject = f'bench file "{name}"'
        try:
            if text is None:
                allowed = (
                    f"a bench file has at most {LARGEST_FILE // 1000} kB: is it the right one?"
                )
                raise BenchError(subject, [Problem("file", "so large a file", allowed)])
            bench = bench_from_toml(text, subject)
            place = self._rack.keep(bench)
        except GlowtraceError as error:
            self.say(str(error))
            return
        await self._show(bench, opening_settings(bench), place)

    # ---- settings --------------------------------------------------------------------------------

    def _turned(self, settings: Settings, stamp: float) -> None:
        self._settings = settings
        problems = check_settings(self._bench, settings)
        self.say("\n".join(str(problem) for problem in problems))
        self._refresh.ask(stamp)

    def _choose(self, u: float) -> None:
        self._put_place(x_of_screen_place(self._bench, u))
        self._refresh.ask()

    def _type_place(self, text: str) -> None:
        try:
            written = text.strip().replace(",", ".").replace("−", "-")
            x = parse_quantity(written if written[-1:].isalpha() else f"{written} mm", "m")
        except QuantityError as error:
            self.say(f"Place of the reading: {error}")
            self._readings.put_place(self._chosen_x)
            return
        self.say("")
        self._put_place(x)
        self._refresh.ask()

    def _put_place(self, x: float) -> None:
        is_face = isinstance(self._bench.screen, EndFace)
        self._chosen_x = x
        self._readings.put_place(x)
        self._screen.set_marker(None if is_face else screen_place_of_x(self._bench, x))

    def _choose_model(self, model: Model) -> None:
        self._model = model
        self._refresh.ask()

    def _show_in_room(self, is_wanted: bool) -> None:
        self._preparation = replace(self._preparation, in_room=is_wanted)
        self._refresh.ask()

    def _save(self, name: str, *, overwrite: bool) -> None:
        if self._rack.store is None:
            raise StoreError("Nothing can be saved: the database could not be opened.")
        self._rack.store.settings.save(name, self._settings, self._bench, overwrite=overwrite)

    async def _reopen(self, saved: SavedSettings) -> None:
        try:
            bench, settings = saved.bench, saved.settings
        except GlowtraceError as error:
            self.say(str(error))
            return
        await self._show(bench, settings, self._rack.take_in(bench))

    def say(self, text: str) -> None:
        """Show one message; none removes it."""
        if self._header.message.text != text:
            self._header.message.text = text

    # ---- pictures --------------------------------------------------------------------------------

    async def _draw(self, request: Request) -> None:
        """Show a picture of the table as it is now."""
        prepared = self._prepared
        if prepared is None:
            return

        def is_wanted(request: Request) -> bool:
            is_stale = request.resting and request.number != self._refresh.newest
            return prepared is self._prepared and not is_stale

        scene = self._preparation.scene if self._preparation.in_room else None
        setup = Setup(prepared, self._settings, self._model, self._chosen_x, scene)
        try:
            was_sent = await self._painter.paint(setup, request, is_wanted)
        except Exception as error:  # the page must live on, whatever one setting does
            logging.getLogger(__name__).exception("a picture could not be computed")
            self.say(f"This picture could not be computed; the last one stays. {error}")
            return
        if was_sent and request.resting:
            self._preparation = self._preparation.moved_to(self._place, setup.settings)
            self._room_switch.put(self._preparation, prepared.bench)
            self._header.steps.put(self._preparation.query)
            query = json.dumps(f"?{self._preparation.query}")
            self._screen.client.run_javascript(f"history.replaceState(null, '', {query})")


def _first_place(bench: Bench) -> float:
    """Give where the trace is first read, m: near the end of a sheet, early on a path in gas."""
    screen = bench.screen
    if isinstance(screen, EndFace):
        return screen.x
    part = 0.8 if isinstance(screen, Sheet) else 0.6
    return round(screen.x_from + part * (screen.x_to - screen.x_from), 3)
