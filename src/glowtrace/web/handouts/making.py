"""A button that makes something, with progress, and another one that gives it up."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import TypeVar

from nicegui import background_tasks, context, ui

from glowtrace.watching import Cancelled, Progress
from glowtrace.web.controls import box, button, hint, put_prop, words
from glowtrace.web.job import Job, told

Result = TypeVar("Result")


class Making:
    """The two buttons, the bar and what went wrong.

    Parameters
    ----------
    label
        On the button that makes.
    make
        What it does; it calls `run` for the long part.
    """

    def __init__(self, label: str, make: Callable[[], Awaitable[None]]) -> None:
        self._make = make
        self._is_running = False
        self._job = Job()
        with box("making"):
            with box("ways-on"):
                self._start = button(label, self._begin, "key is-main")
                self._stop = button("Cancel", self.cancel)
            self._said = hint("").props('role="status"')
            self._bar = ui.element("progress").props(f'max="1" aria-label="{label}"')
            self._complaint = words("", "p", "field-complaint").props('role="alert"')
        self._show(False)
        context.client.on_delete(self.cancel)

    def complain(self, text: str) -> None:
        """Say what is wrong; nothing takes it away."""
        self._complaint.text = text

    def cancel(self) -> None:
        """Give up what is being made."""
        self._job.give_up()

    async def run(self, work: Callable[[Progress, Cancelled], Result]) -> Result | None:
        """Do something long beside the page.

        Parameters
        ----------
        work
            Is given a function to note how far it is, and one that says whether it was cancelled.

        Returns
        -------
        Result or None
            None where it failed, with why on the page.
        """
        self._job = job = Job(share=0.0, words="getting ready")
        self.complain("")
        self._show(True)
        working = asyncio.to_thread(work, job.note, job.wants_end)
        try:
            watching = job.watch(working, self._tell)
            return await told(watching, self.complain, "This could not be made")
        finally:
            job.give_up()
            self._show(False)

    def _begin(self) -> None:
        if not self._is_running:
            background_tasks.create(self._run(), name="making")

    async def _run(self) -> None:
        self._is_running = True
        try:
            await self._make()
        finally:
            self._is_running = False

    def _tell(self) -> None:
        self._said.text = self._job.sentence
        put_prop(self._bar, "value", round(self._job.share or 0.0, 3))

    def _show(self, is_running: bool) -> None:
        put_prop(self._start, "disabled", is_running)
        self._stop.set_visibility(is_running)
        self._bar.set_visibility(is_running)
        if not is_running:
            self._said.text = ""
