"""When a picture is computed: the newest settings only, one at a time, fine once a knob rests."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Request:
    """One picture that is wanted.

    Attributes
    ----------
    number
        Counts what was asked; a request with a lower number than `Refresh.newest` is stale.
    stamp
        The browser's clock (ms) when the knob was turned; 0 where no knob was.
    resting
        The knobs rest: many electrons, all readings, the tube's view too.
    """

    number: int
    stamp: float
    resting: bool


class Refresh:
    """Keeps the picture in step with the knobs.

    Turning a knob asks for a picture; while one is on its way, any number of turns leaves just one
    more to be made, of the newest settings. Nothing is ever queued.

    Parameters
    ----------
    draw
        Computes and sends the picture of the settings as they are now; it returns once the page is
        ready for the next one. It may leave a resting picture that went stale.
    rest_s
        Seconds without a turn after which a knob rests.
    apart_s
        Seconds between two pictures of a turning knob, at least: for a page that has more to do.
    """

    def __init__(
        self,
        draw: Callable[[Request], Awaitable[None]],
        *,
        rest_s: float = 0.15,
        apart_s: float = 0.0,
    ) -> None:
        self._draw = draw
        self._rest_s, self._apart_s = rest_s, apart_s
        self._asked = asyncio.Event()
        self._stamp = 0.0
        self.newest = 0

    def ask(self, stamp: float = 0.0) -> None:
        """Ask for a picture of the newest settings."""
        self.newest += 1
        self._stamp = stamp
        self._asked.set()

    async def run(self) -> None:
        """Serve what is asked, until cancelled."""
        while True:
            await self._asked.wait()
            await self._serve(resting=False)
            await asyncio.sleep(self._apart_s)
            try:
                await asyncio.wait_for(self._asked.wait(), self._rest_s)
            except TimeoutError:
                await self._serve(resting=True)

    async def _serve(self, *, resting: bool) -> None:
        self._asked.clear()
        await self._draw(Request(self.newest, self._stamp, resting))
