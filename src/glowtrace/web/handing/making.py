"""A button that makes something, with progress, and another one that gives it up."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from typing import Final, TypeVar

from nicegui import background_tasks, context, ui

from glowtrace.errors import GlowtraceError
from glowtrace.watching import Cancelled, Progress
from glowtrace.web.controls import box, button, put_prop, words

Result = TypeVar("Result")

_LOOK_EVERY: Final = 0.25


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
        self._is_running = self._is_cancelled = False
        self._share, self._words = 0.0, ""
        with box("making"):
            with box("ways-on"):
                self._start = button(label, self._begin, "key is-main")
                self._stop = button("Cancel", self.cancel)
            self._said = words("", "p", "making-words").props('role="status"')
            self._bar = ui.element("progress").props(f'max="1" aria-label="{label}"')
            self._complaint = words("", "p", "field-complaint").props('role="alert"')
        self._show(False)
        context.client.on_delete(self.cancel)

    def complain(self, text: str) -> None:
        """Say what is wrong; nothing takes it away."""
        self._complaint.text = text

    def cancel(self) -> None:
        """Give up what is being made."""
        self._is_cancelled = True

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
        self._is_cancelled, self._share, self._words = False, 0.0, "Getting ready …"
        self.complain("")
        self._show(True)
        task = asyncio.ensure_future(
            asyncio.to_thread(work, self._note, lambda: self._is_cancelled)
        )
        try:
            while not task.done():
                self._tell()
                await asyncio.wait({task}, timeout=_LOOK_EVERY)
            return task.result()
        except GlowtraceError as error:
            self.complain(str(error))
        except Exception as error:  # the page must live on
            logging.getLogger(__name__).exception("something could not be made")
            self.complain(f"This could not be made: {error}")
        finally:
            self._is_cancelled = True
            self._show(False)
        return None

    def _begin(self) -> None:
        if not self._is_running:
            background_tasks.create(self._run(), name="making")

    async def _run(self) -> None:
        self._is_running = True
        try:
            await self._make()
        finally:
            self._is_running = False

    def _note(self, share: float, text: str) -> None:
        self._share, self._words = share, f"{text[:1].upper()}{text[1:]}"

    def _tell(self) -> None:
        self._said.text = self._words
        put_prop(self._bar, "value", round(self._share, 3))

    def _show(self, is_running: bool) -> None:
        put_prop(self._start, "disabled", is_running)
        self._stop.set_visibility(is_running)
        self._bar.set_visibility(is_running)
        if not is_running:
            self._said.text = ""
