"""Around every step but the first: head, steps, what is set, message, progress, caution."""

from __future__ import annotations

import asyncio
import json
import logging
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Final, TypeVar

from nicegui import ui
from starlette.requests import Request

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError, StoreError
from glowtrace.watching import Cancelled, GivenUpError, Progress
from glowtrace.web.controls import Picker, box, button, put_prop, words
from glowtrace.web.naming import knob_facts
from glowtrace.web.opening import opening_settings
from glowtrace.web.preparation import Preparation, receive_preparation
from glowtrace.web.rack import Rack
from glowtrace.web.steps import STEPS, Steps

CAUTION = (
    "Dangerous voltages, hot parts, glass that can implode: local rules and the person "
    "responsible decide what may be switched on. Computed numbers replace neither."
)
Result = TypeVar("Result")
_LOOK_EVERY: Final = 0.3
"""Seconds between two looks at how far something is."""


class Frame:
    """The page around one step of the work. Building it puts it on the page.

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
        with box("preparing", "main"):
            with box("header", "header"):
                words("Glowtrace", "h1")
                self._offer()
                self._steps = Steps(path)
            self._message = words(trouble, "p", "message").props('role="alert"')
            with box("set"):
                words(STEPS[path], "h2")
                self._facts = box("facts", "dl").props('aria-label="Settings"')
            with box("working is-idle") as self._working:
                with box("working-line"):
                    self._working_text = words("", "p").props('role="status"')
                    self._cancel = button("Cancel", self.give_up)
                self._working_bar = ui.element("progress").props('max="1" aria-label="Progress"')
            self.body = box("body")
            words(CAUTION, "p", "caution")
        self._cancel.set_visibility(False)
        self._long: list[_LongWork] = []
        self.body.client.on_delete(self.give_up)
        self._show_settings()
        self._steps.put(preparation.query)

    def say(self, text: str) -> None:
        """Show one message; none removes it."""
        self._message.text = text

    def keep(self, preparation: Preparation, more: str = "") -> None:
        """Let address and steps tell what is prepared now; `more` goes into this address only."""
        self.preparation = preparation
        self._show_settings()
        self._steps.put(preparation.query)
        address = json.dumps(preparation.at(self._path) + more)
        self.body.client.run_javascript(f"history.replaceState(null, '', {address})")

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
        try:
            while not build.task.done():
                self.show_working(f"{build.progress.text.capitalize()} …", build.progress.share)
                await asyncio.wait({build.task}, timeout=0.15)
            return build.task.result()
        except GlowtraceError as error:
            self.say(str(error))
        except Exception as error:  # a defect in the field code must not leave a waiting page
            logging.getLogger(__name__).exception("fields could not be built")
            self.say(f"The fields of this bench could not be built: {error}")
        finally:
            self.show_working("")
        return None

    async def compute(self, text: str, work: Callable[[], Result]) -> Result | None:
        """Compute beside the page, with the time that it takes; None where it fails, with why."""
        return await self._follow(text, self.rack.compute(work), None)

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
        job = _LongWork()
        self._long.append(job)
        self._cancel.set_visibility(True)
        try:
            computing = self.rack.compute(lambda: work(job.note, lambda: job.is_given_up))
            return await self._follow(text, computing, job)
        finally:
            self._long.remove(job)
            self._cancel.set_visibility(bool(self._long))

    def give_up(self) -> None:
        """Give up all long work of this page."""
        for job in self._long:
            job.is_given_up = True

    async def _follow(
        self, text: str, computing: Awaitable[Result], job: _LongWork | None
    ) -> Result | None:
        """Wait for something, showing how far it is."""
        began = time.monotonic()
        task = asyncio.ensure_future(computing)
        try:
            while not task.done():
                await asyncio.wait({task}, timeout=_LOOK_EVERY)
                took = time.monotonic() - began
                if not task.done():
                    said = " …" if took <= 1 else f" … {took:.0f} s"
                    self.show_working(f"{text}{said}", None if job is None else job.share)
            return task.result()
        except GivenUpError:
            return None
        except GlowtraceError as error:
            self.say(str(error))
        except Exception as error:  # the page must live on
            logging.getLogger(__name__).exception("a step failed")
            self.say(f"This could not be computed: {error}")
        finally:
            self.show_working("")
        return None

    def _show_settings(self) -> None:
        self._facts.clear()
        with self._facts:
            for fact in knob_facts(self.bench, self.preparation.settings):
                with box("fact", "div"):
                    words(fact.name, "dt")
                    with ui.element("dd"):
                        words(fact.value, css="fact-value")
                        if fact.note:
                            words(fact.note, css="fact-note")

    def _offer(self) -> None:
        picker = Picker("Bench", self._pick)
        try:
            picker.offer(self.rack.offer(), self.preparation.place)
        except StoreError as error:
            picker.offer({"": {self.preparation.place: self.bench.name}}, self.preparation.place)
            ui.notify(str(error))

    def _pick(self, place: str) -> None:
        try:
            bench = self.rack.bench(place)
        except GlowtraceError as error:
            self.say(str(error))
            return
        ui.navigate.to(self.preparation.moved_to(place, opening_settings(bench)).at(self._path))


@dataclass
class _LongWork:
    """How far something long is, written by who computes; and whether it is given up."""

    share: float | None = None
    is_given_up: bool = False

    def note(self, share: float, _: str) -> None:
        """Take down how far it is."""
        self.share = share


def receive_frame(rack: Rack, first: str, path: str, request: Request) -> Frame:
    """Build the page around a step as its address tells; ``first``: the bench where it does not."""
    preparation, bench, wrong = receive_preparation(request.query_params, first, rack.bench)
    return Frame(rack, path, preparation, bench, "\n".join(wrong))
