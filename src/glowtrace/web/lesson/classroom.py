"""The one lesson that is being held: its learners' server, and what the audience sees of it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray
from starlette.routing import BaseRoute

from glowtrace.bench.computed_line import computed_line
from glowtrace.bench.files import bench_from_toml, bench_to_toml
from glowtrace.bench.model import Bench
from glowtrace.bench.ready_made import ready_made_names
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, StoreError
from glowtrace.explain.accounts import WrongAccount, wrong_accounts
from glowtrace.explain.explanation import explain
from glowtrace.lesson.code import new_code
from glowtrace.lesson.live import LASTS, Given, LiveLesson, Wake
from glowtrace.lesson.meaning import (
    Group,
    Meaning,
    group_answers,
    meaning_of,
)
from glowtrace.lesson.question import Question
from glowtrace.lesson.shown import NOTHING_SHOWN, Invitation, LessonShown
from glowtrace.web.learners.app import learners_app
from glowtrace.web.learners.server import LearnersServer
from glowtrace.web.lesson.audience_sees import audience_sees
from glowtrace.web.lesson.invitation import invite, reachable_at
from glowtrace.web.rack import READY_MADE, Rack

SAYS_OVER_S: Final = 1800.0
"""After its end: how long a phone that was away is still told that the lesson is over."""
EVERY_S: Final = 0.04
"""Between two looks at what learners sent; answers that come meanwhile are shown together."""


class Classroom:
    """Holds a lesson, or none.

    Parameters
    ----------
    rack
        The benches, and where all is kept.
    show
        Is given what the audience sees of the lesson, when it changes.
    more
        Gives routes for the learners' port besides the learners' own.

    Attributes
    ----------
    live
        The lesson; None for none.
    bench
        The bench that it is about.
    """

    def __init__(
        self,
        rack: Rack,
        show: Callable[[LessonShown], None],
        more: Callable[[], tuple[BaseRoute, ...]] = tuple,
    ) -> None:
        self._rack, self._show, self._more = rack, show, more
        self.live: LiveLesson | None = None
        self._server = LearnersServer()
        self._changing = asyncio.Lock()  # one thing after the other, however fast somebody presses
        self._listeners: list[Callable[[], None]] = []
        self._telling: asyncio.Task[None] | None = None
        self._saying_over: asyncio.Task[None] | None = None
        self.bench = rack.bench(f"{READY_MADE}/{ready_made_names()[0]}")
        self._knowing: dict[int, asyncio.Task[None]] = {}
        self._computed: dict[int, NDArray[np.float64]] = {}
        self._accounts: dict[int, tuple[WrongAccount, ...]] = {}
        self._meanings: dict[tuple[int, str, int], Meaning] = {}
        self._address = ""

    # ---- opening and closing ---------------------------------------------------------------------

    async def open(self, title: str, bench: Bench, *, takes_nicknames: bool) -> None:
        """Open a lesson, which this computer alone can join at first.

        Raises
        ------
        GlowtraceError
            A lesson is open already, it cannot be kept, or no port is free.
        """
        if self._rack.store is None:
            raise StoreError("No lesson can be held: the database could not be opened.")
        async with self._changing:
            if self.live is not None:
                raise GlowtraceError("A lesson is open already; end it first.")
            lessons, text = self._rack.store.lessons, bench_to_toml(bench)
            kept = lessons.add(
                title, new_code(), text, lasts=LASTS, takes_nicknames=takes_nicknames
            )
            await self._hold(LiveLesson(lessons, kept))

    async def take_up(self) -> None:
        """Go on with a lesson that was open when the program ended, as it was.

        It has the same port and lets in whom it let in, so that phones come back by themselves.
        """
        if self._rack.store is None:
            return
        lessons = self._rack.store.lessons
        with suppress(GlowtraceError):
            now = datetime.now(UTC)
            kept = next((one for one in lessons.list() if one.is_open(now)), None)
            if kept is not None:
                await self._hold(LiveLesson(lessons, kept))

    async def close(self) -> None:
        """End the lesson; what it holds stays until it is deleted."""
        async with self._changing:
            if self.live is None:
                return
            live, self.live = self.live, None
            to_room = self._server.is_open_to_room
            live.close()
            await asyncio.sleep(0.2)  # time for phones to hear of it
            await self._let_go(live)
            with suppress(GlowtraceError):  # the port was taken meanwhile: then nobody is told
                app = learners_app(live)  # nothing else is there any more
                await self._server.start(app, to_room=to_room, port=self._server.port)
                self._saying_over = asyncio.create_task(self._stop_saying_over())

    async def shut_down(self) -> None:
        """Let go of the lesson as it is, as the program ends: it can be taken up again."""
        async with self._changing:
            self._end_farewell()
            if self.live is not None:
                live, self.live = self.live, None
                await self._let_go(live)
            await self._server.stop()

    async def _stop_saying_over(self) -> None:
        await asyncio.sleep(SAYS_OVER_S)
        async with self._changing:
            await self._server.stop()

    def _end_farewell(self) -> None:
        if self._saying_over is not None:
            self._saying_over.cancel()
            self._saying_over = None

    async def _hold(self, live: LiveLesson) -> None:
        self._end_farewell()
        self._computed, self._accounts, self._meanings = {}, {}, {}
        self._knowing.clear()
        self.bench = bench_from_toml(live.kept.bench_text)
        await self._serve(live, to_room=live.state.is_open_to_room)
        self.live = live  # only now: who sees the code finds the lesson behind it
        self._telling = asyncio.create_task(self._keep_telling(live))

    async def _let_go(self, live: LiveLesson) -> None:
        if self._telling is not None:
            self._telling.cancel()
        await self._server.stop()
        await asyncio.to_thread(live.end)
        self._show(NOTHING_SHOWN)
        self._tell()

    # ---- who can reach it ------------------------------------------------------------------------

    @property
    def is_open_to_room(self) -> bool:
        """Whether phones can reach it, and not this computer alone."""
        return self._server.is_open_to_room

    async def open_to_room(self, is_wanted: bool) -> None:
        """Let all networks of this computer reach the learners' page, or this computer alone."""
        async with self._changing:
            if self.live is not None:
                await self._serve(self.live, to_room=is_wanted)
                self.live.put(is_open_to_room=is_wanted, port=self._server.port)

    @property
    def addresses(self) -> tuple[str, ...]:
        """Where learners' pages are reached; none where this computer is in no network."""
        return reachable_at(self._server.port, to_room=self._server.is_open_to_room)

    def choose_address(self, address: str) -> None:
        """Invite by one of the addresses."""
        self._address = address
        if self.live is not None:
            self._show(self._shown(self.live))
        self._tell()

    @property
    def invitation(self) -> Invitation | None:
        """How to join."""
        if self.live is None or not self.address:
            return None
        return invite(self.address, self.live.kept.code)

    @property
    def address(self) -> str:
        """The one of the addresses that was chosen, or the first; empty for none."""
        addresses = self.addresses
        return self._address if self._address in addresses else next(iter(addresses), "")

    async def _serve(self, live: LiveLesson, *, to_room: bool) -> None:
        app = learners_app(live, self._more())
        port = self._server.port or live.state.port
        await self._server.start(app, to_room=to_room, port=port)
        live.put(port=self._server.port)

    # ---- questions -------------------------------------------------------------------------------

    def ask(self, question: Question) -> None:
        """Ask the learners."""
        assert self.live is not None
        self._know(self.live, self.live.ask(question))
        self._show(self._shown(self.live))  # before a picture can give the answer away

    def _know(self, live: LiveLesson, number: int) -> None:
        """Begin to compute what answers are compared with, once for each question."""
        question = live.questions.get(number)
        if question is None or question.settings is None or number in self._knowing:
            return
        self._knowing[number] = asyncio.create_task(
            self._compute(live, number, question.settings), name="what a question is about"
        )

    async def _compute(self, live: LiveLesson, number: int, settings: Settings) -> None:
        prepared = await self._rack.build(self.bench).task
        line = await self._rack.compute(partial(computed_line, prepared, settings))
        self._computed[number] = line.first_piece
        self._accounts[number] = await self._rack.compute(
            lambda: wrong_accounts(prepared, explain(prepared, settings))
        )
        if live is self.live:
            self._show(self._shown(live))
            self._tell()

    def accounts(self, number: int) -> tuple[WrongAccount, ...]:
        """Give the wrong accounts that go with a question, as far as they are known."""
        return self._accounts.get(number, ())

    def groups(self, number: int) -> tuple[Group, ...]:
        """Give the predictions grouped by what they mean, the largest group first."""
        live, computed = self.live, self._computed.get(number)
        if live is None or computed is None or live.questions[number].kind != "predict":
            return ()

        def meaning(one: Given) -> Meaning:
            key = (number, one.learner, one.sequence)
            if key not in self._meanings:
                self._meanings[key] = meaning_of(one.answer, computed, self.bench.plane)
            return self._meanings[key]

        return group_answers(live.answers(number).values(), meaning)

    # ---- who listens -----------------------------------------------------------------------------

    def listen(self, call: Callable[[], None]) -> Callable[[], None]:
        """Have something called after every change; the answer ends it."""
        self._listeners.append(call)
        return lambda: self._listeners.remove(call)

    def _tell(self) -> None:
        for call in tuple(self._listeners):
            call()

    async def _keep_telling(self, live: LiveLesson) -> None:
        wake = Wake(live, answers=True)
        shown: LessonShown | None = None
        try:
            while True:
                await wake.wait()
                self._know(live, live.state.question)
                now = self._shown(live)
                if now != shown:
                    shown = now
                    self._show(now)
                self._tell()
                await asyncio.sleep(EVERY_S)
        finally:
            wake.stop()

    def _shown(self, live: LiveLesson) -> LessonShown:
        invitation = self.invitation if live.state.shows_invitation else None
        return audience_sees(live, self.groups(live.state.question), invitation)
