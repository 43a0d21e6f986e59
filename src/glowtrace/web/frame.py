"""Around every page: head, steps, what is set, message, progress, caution."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import TypeVar

from nicegui import ui
from starlette.requests import Request

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError
from glowtrace.watching import Cancelled, Progress
from glowtrace.web.controls import box, button, put_fact, put_prop, words
from glowtrace.web.header import Header
from glowtrace.web.job import Job, told
from glowtrace.web.naming import knob_facts
from glowtrace.web.preparation import FARTHEST, LAST_ROW, NEAREST, Preparation, receive_preparation
from glowtrace.web.rack import Rack
from glowtrace.web.steps import STEPS
from glowtrace.words import say

Result = TypeVar("Result")


class Frame:
    """A page but for its content. Building it puts it on the page; `body` takes the content.

    Parameters
    ----------
    rack
        The benches.
    path
        Of this page.
    preparation, bench
        What is prepared.
    trouble
        What the address got wrong; shown.
    """

    def __init__(
        self, rack: Rack, path: str, preparation: Preparation, bench: Bench, trouble: str
    ) -> None:
        self.rack = rack
        self.preparation = preparation
        self.bench = bench
        self._path = path
        self._carry: Callable[[str], str] | None = None
        has_knobs = path == "/"  # which tell themselves how they are set
        with box("page" if has_knobs else "preparing"):
            words("Skip to the content", "a", "skip").props('href="#content"')
            self._header = Header(
                rack, path, lambda: self.preparation, bench, self.say, self._carried
            )
            self._message = words(trouble, "p", "message").props('role="alert"')
            with box("set"):
                words(STEPS[path], "h1", "visually-hidden" if has_knobs else "")
                self._facts = box("facts", "dl").props('aria-label="Settings"')
                self._facts.set_visibility(not has_knobs)
            with box("working is-idle") as self._working:
                with box("working-line"):
                    self._working_text = words("", "p").props('role="status"')
                    self._cancel = button("Cancel", self.give_up)
                self._working_bar = ui.element("progress").props('max="1" aria-label="Progress"')
            self.body = box("body").props('id="content" tabindex="-1"')
            words(say("bench.caution"), "p", "caution")
        self._cancel.set_visibility(False)
        self._jobs: list[Job] = []
        self.body.client.on_delete(self.give_up)
        self._show_settings()
        self._header.steps.put(preparation.query)

    def say(self, text: str) -> None:
        """Show one message; none removes it."""
        if self._message.text != text:
            self._message.text = text

    @contextmanager
    def telling(self) -> Iterator[None]:
        """Take a step that a visitor asked for; where it fails, say why and leave out the rest."""
        try:
            yield
        except GlowtraceError as error:
            self.say(str(error))

    def keep(self, preparation: Preparation, more: str = "") -> None:
        """Let address and steps tell what is prepared now; `more` goes into this address only."""
        if preparation.scene.away != self.preparation.scene.away:
            self.rack.remember(LAST_ROW, preparation.scene.away)
        self.preparation = preparation
        self._show_settings()
        self._header.steps.put(preparation.query)
        address = json.dumps(preparation.at(self._path) + more)
        self.body.client.run_javascript(f"history.replaceState(null, '', {address})")

    def carry(self, carried: Callable[[str], str]) -> None:
        """Let what this page's address has besides go on to another bench, given its place."""
        self._carry = carried

    def _carried(self, place: str) -> str:
        return "" if self._carry is None else self._carry(place)

    def show_working(self, text: str, share: float | None = None) -> None:
        """Show what is being computed, and how far it is where that is known; none hides it."""
        if text:
            self._working.classes(remove="is-idle")
        else:
            self._working.classes(add="is-idle")
        self._working_text.text = text
        if share is None:
            self._working_bar.props.pop("value", None)
            self._working_bar.update()
        else:
            put_prop(self._working_bar, "value", round(share, 3))

    async def prepared(self) -> PreparedBench | None:
        """Give the bench with its fields, showing how far they are; None where it cannot be."""
        build = self.rack.build(self.bench)
        look = partial(self._look_at, build.job)
        following = build.job.watch(build.task, look)
        try:
            return await told(following, self.say, "The fields of this bench could not be built")
        finally:
            self.show_working("")

    async def compute(self, text: str, work: Callable[[], Result]) -> Result | None:
        """Compute beside the page, with the time that it takes; None where it fails, with why."""
        return await self._follow(text, work, Job())

    async def compute_long(
        self, text: str, work: Callable[[Progress, Cancelled], Result]
    ) -> Result | None:
        """Compute beside the page, with the share that is done and a way to give it up.

        Parameters
        ----------
        text
            What is computed, in a few words.
        work
            Is given what to tell how far it is, and what to ask whether it is given up, as it is
            too when the visitor leaves.

        Returns
        -------
        Result or None
            None where it was given up, or failed, with why on the page.
        """
        job = Job()
        self._jobs.append(job)
        self._cancel.set_visibility(True)
        try:
            return await self._follow(text, partial(work, job.note, job.wants_end), job)
        finally:
            self._jobs.remove(job)
            self._cancel.set_visibility(bool(self._jobs))

    def give_up(self) -> None:
        """Give up all long work of this page."""
        for job in self._jobs:
            job.give_up()

    async def _follow(self, text: str, work: Callable[[], Result], job: Job) -> Result | None:
        """Wait for something, showing how far it is and for how long."""
        began = time.monotonic()
        following = job.watch(
            self.rack.compute(work), lambda: self._look_at(job, text, time.monotonic() - began)
        )
        try:
            return await told(following, self.say, "This could not be computed")
        finally:
            self.show_working("")

    def _look_at(self, job: Job, text: str = "", took: float = 0.0) -> None:
        waited = "" if took <= 1 else f" {took:.0f} s"
        self.show_working(f"{text} …{waited}" if text else job.sentence, job.share)

    def _show_settings(self) -> None:
        self._facts.clear()
        with self._facts:
            for fact in knob_facts(self.bench, self.preparation.settings):
                put_fact(*fact)


def receive_frame(rack: Rack, first: str, path: str, request: Request) -> Frame:
    """Build the page around a step as its address tells; ``first``: the bench where it does not."""
    preparation, bench, wrong = receive_preparation(request.query_params, first, rack.bench)
    if not request.query_params:  # nothing is told yet: the hall is that of the last time
        usual = preparation.scene.away
        away = rack.remembered(LAST_ROW, NEAREST, FARTHEST, usual)
        preparation = preparation.with_scene(preparation.scene.model_copy(update={"away": away}))
    trouble = [rack.trouble] if rack.trouble else []
    return Frame(rack, path, preparation, bench, "\n".join([*trouble, *wrong]))
