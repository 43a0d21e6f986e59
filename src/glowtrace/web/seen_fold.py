"""What was seen on the real tube: taken in beside the knobs, and what it changes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Final

from nicegui import background_tasks, ui
from nicegui.events import GenericEventArguments

from glowtrace.bench.doubts import Doubts, Seen
from glowtrace.bench.knowledge import knowledge_of
from glowtrace.bench.learning import Learnt, learn, with_seen
from glowtrace.bench.model import Bench
from glowtrace.bench.observing import READ_TO, next_observations
from glowtrace.bench.prediction import predict
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.learning_readings import (
    readings_to_learn_from,
    seen_in_photograph,
    seen_in_table,
)
from glowtrace.units import shortest
from glowtrace.web.controls import (
    asked,
    box,
    button,
    file_button,
    hint,
    put_rows,
    read_text,
    words,
)
from glowtrace.web.frame import Frame
from glowtrace.web.measure.photograph_desk import PhotographDesk
from glowtrace.web.measure.photograph_files import PhotographFiles
from glowtrace.web.naming import read_field
from glowtrace.words.knowledge import (
    exact_words,
    learnt_words,
    moved_numbers,
    next_words,
    seen_words,
)

_LARGEST: Final = 200_000
"""Bytes of a table of readings."""
_READS: Final = (1e-6, 0.1)
"""Least and greatest standard uncertainty in m that a reading can have."""


class SeenFold:
    """The fold; what is taken in is kept with the bench, as a new version. Building it puts it.

    Parameters
    ----------
    frame
        Around it.
    place
        Gives where along the tube the line is read, m.
    files
        Where photographs arrive.
    """

    def __init__(self, frame: Frame, place: Callable[[], float], files: PhotographFiles) -> None:
        self._frame, self._place, self._files = frame, place, files
        self._desk: PhotographDesk | None = None
        doubts = frame.bench.doubts or Doubts()
        self._is_known = bool(knowledge_of(frame.bench).names)
        self._typed = {"x": "", "y": "", "read": shortest(1e3 * READ_TO, 3)}
        with box("fold small seen", "details") as fold:
            if doubts.seen:
                fold.props["open"] = True
            words("What did you see?", "summary")
            if not self._is_known:
                words(exact_words(), "p")
                return
            self._put_fields(frame.bench)
            with box("rows", "ol"):
                for each in doubts.seen:
                    words(seen_words(each), "li")
            if doubts.seen:
                with box("ways-on"):
                    button("Take the last one back", lambda: self._take_back(1))
                    if len(doubts.seen) > 1:
                        button("Take all back", lambda: self._take_back(len(doubts.seen)), "plain")
            button("What to look at next?", self._propose, "plain")
            self._told = box("stack").props('role="status"')

    def _put_fields(self, bench: Bench) -> None:
        def typed(name: str) -> Callable[[str], None]:
            return lambda text: self._typed.update({name: text})

        is_circle = bench.plane.glows
        if not is_circle and not bench.plane.is_spot:
            asked("Line at x, mm", "", typed("x"), hint="marked")
        asked("Diameter of the circle, mm" if is_circle else "Height there, mm", "", typed("y"))
        asked("Read to within, mm", self._typed["read"], typed("read"))
        button("Take it in", self._take_in)
        hint("At the knobs as they are set. The bench is kept as a new version.")
        if not bench.plane.is_spot:
            with box("ways-on"):
                file_button(
                    "From a table of readings",
                    ".csv,.txt,.tsv",
                    read_text(_LARGEST),
                    self._take_table,
                )
                button("From a photograph", self._open_desk, "plain")

    async def tell(self, prepared: PreparedBench, settings: Settings, x: float) -> None:
        """Say what the readings of the bench change in the line at these settings, at x in m."""
        if not self._is_known or not (prepared.bench.doubts or Doubts()).seen:
            return

        def work() -> tuple[Learnt, list[str]]:
            learnt = learn(prepared)
            before, after = (
                predict(prepared, settings, belief=each) for each in (learnt.before, learnt.after)
            )
            return learnt, list(learnt_words(learnt, before, after, x))

        try:
            learnt, told = await self._frame.rack.compute(work)
        except GlowtraceError as error:
            told = [str(error)]
            learnt = None
        self._told.clear()
        with self._told:
            for sentence in told:
                words(sentence, "p")
            if learnt is not None:
                put_rows(list(moved_numbers(prepared.bench, learnt)))

    def _propose(self) -> None:
        background_tasks.create(self._tell_next())

    async def _tell_next(self) -> None:
        """Say which reading would tighten the line as it is set now the most."""
        frame, x = self._frame, self._place()
        prepared = await frame.prepared()
        if prepared is None:
            return

        def work() -> str:
            belief = learn(prepared).after
            found = next_observations(prepared, frame.preparation.settings, x, belief=belief)
            return next_words(prepared.bench, found[0] if found else None, READ_TO)

        told = await frame.compute("Looking for the reading that helps most", work)
        if told is not None:
            self._told.clear()
            with self._told:
                words(told, "p")

    def _take_in(self) -> None:
        with self._frame.telling():
            background_tasks.create(self._keep([self._read()]))

    def _take_table(self, event: GenericEventArguments) -> None:
        name, text = event.args
        with self._frame.telling():
            if text is None:
                allowed = f"give at most {_LARGEST // 1000} kB"
                raise GlowtraceError(Problem(str(name), "too large", allowed))
            seen = seen_in_table(readings_to_learn_from(str(text)), self._frame.bench)
            background_tasks.create(self._keep(list(seen)))

    def _open_desk(self) -> None:
        if self._desk is None:
            with self._frame.body:
                settings = self._frame.preparation.settings
                self._desk = PhotographDesk(
                    self._frame, self._files, lambda: settings, self._put_ways_on
                )
        self._desk.open()

    def _put_ways_on(self) -> None:
        with box("ways-on"):
            button("Learn from this line", self._take_line, "key is-main")
            hint("Taken at the knobs as they are set now.")

    def _take_line(self) -> None:
        work = None if self._desk is None else self._desk.work
        with self._frame.telling():
            if work is None or work.line is None:
                raise GlowtraceError("Find the line in the photograph first.")
            if self._desk is not None and self._desk.held and self._desk.held.is_invented:
                raise GlowtraceError(
                    "This photograph is computed from the bench itself: the real tube is not in it."
                )
            settings = self._frame.preparation.settings
            seen = seen_in_photograph(work.line, self._frame.bench, settings)
            background_tasks.create(self._keep(list(seen)))

    def _take_back(self, count: int) -> None:
        background_tasks.create(self._keep([], forget=count))

    def _read(self) -> Seen:
        plane = self._frame.bench.plane
        settings = self._frame.preparation.settings
        uncertainty = _length("Read to within", self._typed["read"])
        if not _READS[0] <= uncertainty <= _READS[1]:
            allowed = "give 0.001 mm to 100 mm"
            raise GlowtraceError(Problem("Read to within", self._typed["read"], allowed))
        if plane.glows:
            size = _length("Diameter of the circle", self._typed["y"])
            return Seen(what="circle", settings=settings, y=size, uncertainty=uncertainty)
        x = self._place()
        if not plane.is_spot and self._typed["x"].strip():
            x = _length("Line at x", self._typed["x"])
        y = _length("Height there", self._typed["y"])
        return Seen(settings=settings, x=x, y=y, uncertainty=uncertainty)

    async def _keep(self, seen: list[Seen], forget: int = 0) -> None:
        """Keep the bench where what it tells can have been seen, and go on with it."""
        frame = self._frame
        prepared = await frame.prepared()
        if prepared is None:
            return

        def work() -> Bench:
            signed = [signed_circle(prepared, each) for each in seen]
            bench = with_seen(prepared.bench, signed, forget)
            learn(replace(prepared, bench=bench))
            return bench

        bench = await frame.compute("Taking it in", work)
        if bench is None:
            return
        with frame.telling(), frame.body:
            place = frame.rack.keep(bench)
            ui.navigate.to(replace(frame.preparation, place=place).at("/"))


def signed_circle(prepared: PreparedBench, seen: Seen) -> Seen:
    """Give a circle's diameter the sign of the way in which the beam bends."""
    if seen.what != "circle":
        return seen
    turn = prepared.line_turn(seen.settings)
    return seen.model_copy(update={"y": math.copysign(seen.y, turn)})


def _length(name: str, text: str) -> float:
    try:
        return read_field(text, "m", "mm")
    except GlowtraceError as error:
        raise error.within(name) from None
