"""The switch that shows the live trace as in the room that is set on the page on light."""

from __future__ import annotations

from collections.abc import Callable

from glowtrace.bench.model import Bench
from glowtrace.light.scene import beam_current
from glowtrace.units import format_quantity
from glowtrace.web.controls import Switch, box, put_prop, words
from glowtrace.web.preparation import Preparation
from glowtrace.words.light import illuminance


class RoomSwitch:
    """The switch with its room in words. Building it puts it on the page.

    Parameters
    ----------
    preparation, bench
        Which room, and whether it counts.
    on_change
        Called when the visitor turns it.
    """

    def __init__(
        self, preparation: Preparation, bench: Bench, on_change: Callable[[bool], None]
    ) -> None:
        with box("room-switch"):
            self._switch = Switch("As in this room", on_change)
            with box("hint", "p"):
                self._room = words("")
                self._link = words("can they see it?", "a", "plain")
        self.put(preparation, bench)

    def put(self, preparation: Preparation, bench: Bench) -> None:
        """Show which room counts."""
        scene = preparation.scene
        self._switch.put(preparation.in_room)
        light = illuminance(scene.room.illuminance)
        current = format_quantity(beam_current(bench, scene), "A", 2)
        told = f"{light}, {current}".replace(" ", "\u00a0").replace(",\u00a0", ", ")
        self._room.text = f"to an order of magnitude, for {told}: "
        put_prop(self._link, "href", preparation.at("/light"))
