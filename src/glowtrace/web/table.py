"""The page to rehearse on: a bench's knobs, and everything that shows what they do."""

from __future__ import annotations

import asyncio
import logging
from dataclasses import replace

from glowtrace.bench.learning import Belief
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.report.caption import accuracy_words
from glowtrace.units import QuantityError
from glowtrace.web.audience.audience import Audience
from glowtrace.web.audience.strip import AudienceStrip
from glowtrace.web.controls import box, words
from glowtrace.web.doubt_fold import DoubtFold
from glowtrace.web.frame import Frame
from glowtrace.web.knob_history import KnobHistory
from glowtrace.web.measure.photograph_files import PhotographFiles
from glowtrace.web.naming import read_field
from glowtrace.web.painter import Painter
from glowtrace.web.panel import Panel
from glowtrace.web.readings import ReadingList
from glowtrace.web.refresh import Refresh, Request
from glowtrace.web.room_switch import RoomSwitch
from glowtrace.web.screen import GriddedScreen
from glowtrace.web.seen_fold import SeenFold
from glowtrace.web.showing import Setup
from glowtrace.web.surface import surface_of
from glowtrace.web.sweep.sweep_fold import SweepFold
from glowtrace.web.tube import TubeView


class Table:
    """The knobs with their pictures. Building it puts it into a frame.

    Parameters
    ----------
    frame
        Around it.
    audience
        Sees the same pictures.
    photographs
        Where photographs of the real tube arrive.
    """

    def __init__(self, frame: Frame, audience: Audience, photographs: PhotographFiles) -> None:
        self._photographs = photographs
        self._frame, self._bench, self._audience = frame, frame.bench, audience
        self._model: Model = "bench"
        self._chosen_x = frame.bench.plane.first_read_x
        self._prepared: PreparedBench | None = None
        self._belief: Belief | None = None
        self._refresh = Refresh(self._draw)
        self._history = KnobHistory()
        with frame.body:
            self._put_on_page()
        self._put_place(self._chosen_x)
        self._put_tools()

    def _put_on_page(self) -> None:
        bench = self._bench
        if bench.plates is None:
            self._frame.body.classes(add="is-without-plates")
        self._screen = GriddedScreen(surface_of(bench), self._choose)
        self._screen.on_undo(self._take_back)
        self._screen.on_hold(self._hold)
        self._panel = Panel(bench, self._frame.preparation.settings, self._turned)
        self._sweep = SweepFold(self._frame, self._turn_to)
        with box("side", "aside"):
            self._tube = TubeView()
            self._readings = ReadingList(self._type_place, self._choose_model)
            self._readings.set_up(bench, self._model)
            self._room_switch = RoomSwitch(self._frame.preparation, bench, self._show_in_room)
            self._seen = SeenFold(self._frame, lambda: self._chosen_x, self._photographs)
            self._doubts = DoubtFold(self._frame.preparation.at("/bench"))
            AudienceStrip(self._audience, self._frame, self._screen)
            with box("fold small", "details"):
                words("About this bench", "summary")
                self._about = words(" ".join(bench.notes.split()), "p")
        self._painter = Painter(
            self._frame.rack, self._screen, self._readings, self._tube, self._audience
        )

    async def run(self) -> None:
        """Build the fields, then keep the picture in step with the knobs, until cancelled."""
        self._prepared = await self._frame.prepared()
        if self._prepared is None:
            return
        accuracy = accuracy_words(self._prepared.fields.accuracy, self._bench)
        self._about.text = f"{self._about.text} {accuracy}"
        self._tube.set_up(self._bench, surface_of(self._bench).glow)
        self._refresh.ask()
        knowing = asyncio.create_task(self._know(self._prepared))
        try:
            await self._refresh.run()
        finally:
            knowing.cancel()

    async def _know(self, prepared: PreparedBench) -> None:
        """Find how well the line is known, beside the pictures, and show it with the next one."""
        try:
            self._belief = await self._frame.rack.believe(prepared)
        except GlowtraceError as error:
            self._frame.say(str(error))
            return
        if self._belief.names:
            self._refresh.ask()

    # ---- settings --------------------------------------------------------------------------------

    def _turned(self, settings: Settings, stamp: float) -> None:
        now = asyncio.get_running_loop().time()
        self._history.note(self._frame.preparation.settings, settings, now)
        self._set(settings, stamp)

    def _turn_to(self, settings: Settings) -> None:
        self._panel.put(self._bench, settings)
        self._turned(settings, 0.0)

    def _take_back(self) -> None:
        before = self._history.back()
        if before is not None:
            self._panel.put(self._bench, before)
            self._set(before)

    def _hold(self) -> None:
        """Keep the line as it is now to compare with, or let go of the one that is kept."""
        preparation = self._frame.preparation
        kept = preparation.settings if preparation.beside is None else None
        self._frame.preparation = replace(preparation, beside=kept)
        self._put_tools()
        self._refresh.ask()

    def _put_tools(self) -> None:
        is_held = self._frame.preparation.beside is not None
        self._screen.put_tools(is_held=is_held, can_undo=bool(self._history))

    def _set(self, settings: Settings, stamp: float = 0.0) -> None:
        self._frame.preparation = self._frame.preparation.with_settings(settings)
        self._put_tools()
        problems = check_settings(self._bench, settings)
        self._frame.say("\n".join(str(problem) for problem in problems))
        self._refresh.ask(stamp)

    def _choose(self, u: float) -> None:
        self._put_place(self._bench.plane.x_of(u))
        self._refresh.ask()

    def _type_place(self, text: str) -> None:
        try:
            x = read_field(text, "m", "mm")
        except QuantityError as error:
            self._frame.say(f"Place of the reading: {error}")
            self._readings.put_place(self._chosen_x)
            return
        self._frame.say("")
        self._put_place(x)
        self._refresh.ask()

    def _put_place(self, x: float) -> None:
        is_face = self._bench.plane.is_spot
        self._chosen_x = x
        self._readings.put_place(x)
        self._screen.set_marker(None if is_face else self._bench.plane.u_of(x))

    def _choose_model(self, model: Model) -> None:
        self._model = model
        self._refresh.ask()

    def _show_in_room(self, is_wanted: bool) -> None:
        self._frame.preparation = replace(self._frame.preparation, in_room=is_wanted)
        self._refresh.ask()

    # ---- pictures --------------------------------------------------------------------------------

    async def _draw(self, request: Request) -> None:
        """Show a picture of the table as it is now."""
        if self._prepared is None:
            return

        def is_wanted(request: Request) -> bool:
            return not request.resting or request.number == self._refresh.newest

        preparation = self._frame.preparation
        scene = preparation.scene if preparation.in_room else None
        setup = Setup(
            self._prepared,
            preparation.settings,
            self._model,
            self._chosen_x,
            scene,
            self._belief,
            preparation.beside,
        )
        try:
            shown = await self._painter.paint(setup, request, is_wanted)
        except Exception as error:  # the page must live on, whatever one setting does
            logging.getLogger(__name__).exception("a picture could not be computed")
            self._frame.say(f"This picture could not be computed; the last one stays. {error}")
            return
        if shown is not None and request.resting:
            self._doubts.show(shown.prediction, self._chosen_x)
            self._sweep.show(self._prepared, self._model, self._chosen_x)
            self._frame.keep(self._frame.preparation)
            self._room_switch.put(self._frame.preparation, self._bench)
            if self._belief is not None:
                await self._seen.tell(self._prepared, preparation.settings, self._chosen_x)
