"""Brings pictures to the page, no faster than the page can show them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import Final

from glowtrace.web.audience.audience import Audience
from glowtrace.web.glow import glow_message, room_message
from glowtrace.web.rack import Rack
from glowtrace.web.readings import ReadingList, summary
from glowtrace.web.refresh import Request
from glowtrace.web.screen import GriddedScreen
from glowtrace.web.showing import RESTING, TURNING, Setup, Showing
from glowtrace.web.surface import light_unit, screen_box
from glowtrace.web.tube import TubeView

ANSWER_S: Final = 1.0
"""How long the page may take to show a picture before the next is sent all the same."""
READINGS_EVERY_S: Final = 0.1
"""While a knob turns, numbers change no faster than can be read."""


class Painter:
    """Computes pictures; sends them to screen, readings, view of the tube, and the audience.

    The next picture is computed while the page draws the last one, and sent once that one stands
    there: never more than one is on its way.
    """

    def __init__(
        self,
        rack: Rack,
        screen: GriddedScreen,
        readings: ReadingList,
        tube: TubeView,
        audience: Audience,
    ) -> None:
        self._rack = rack
        self._audience = audience
        self._screen = screen
        self._readings = readings
        self._tube = tube
        self._sent = 0
        self._has_answered = asyncio.Event()
        self._has_answered.set()
        self._read_at = 0.0
        screen.on_drawn(self._note_drawn)

    async def paint(
        self, setup: Setup, request: Request, is_wanted: Callable[[Request], bool]
    ) -> Showing | None:
        """Compute a picture and send it, unless it is wanted no more by then: None.

        Parameters
        ----------
        setup
            What the picture is made of.
        request
            Whether the knobs rest, and when the last one was turned.
        is_wanted
            Asked before sending.
        """
        detail = RESTING if request.resting else TURNING
        showing = await self._rack.picture(setup, detail)
        with suppress(TimeoutError):  # a hidden tab draws nothing: what it gets next must do
            await asyncio.wait_for(self._has_answered.wait(), ANSWER_S)
        if not is_wanted(request):
            return None
        self._send(setup, showing, request)
        return showing

    def _send(self, setup: Setup, showing: Showing, request: Request) -> None:
        bench, settings = setup.prepared.bench, setup.settings
        self._has_answered.clear()
        self._sent += 1
        message = glow_message(
            showing.picture,
            showing.textbook,
            screen_box(bench),
            self._sent,
            showing.band,
            showing.held,
        )
        if showing.look is not None:
            message["room"] = room_message(showing.look, light_unit(bench))
        message |= {"stamp": request.stamp, "resting": request.resting}
        self._screen.show(message)
        self._audience.show_picture(bench, settings, message)
        now = asyncio.get_running_loop().time()
        if request.resting or now - self._read_at > READINGS_EVERY_S:
            self._read_at = now
            self._readings.show(
                showing.readouts, settings, bench, showing.doubt, showing.off_textbook
            )
        if request.resting:
            self._tube.show(showing.flying, showing.picture.landings)
            self._screen.describe(summary(showing.readouts, settings, bench))

    def _note_drawn(self, number: int) -> None:
        if number == self._sent:
            self._has_answered.set()
