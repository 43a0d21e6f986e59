"""A knob of the bench as a page element."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.web.controls import put_prop


@dataclass(frozen=True)
class Scale:
    """How a knob's range is shown.

    Attributes
    ----------
    low, high
        The ends of the knob's travel, in SI units.
    unit
        The SI unit, "V" or "A"; the page shows kV where the range goes beyond 1 kV.
    """

    low: float
    high: float
    unit: str

    @property
    def shown_in(self) -> float:
        """SI units in one unit of the page."""
        return 1e3 if self.high > 1e3 else 1.0

    @property
    def shown_unit(self) -> str:
        """The unit on the page."""
        return f"k{self.unit}" if self.shown_in == 1e3 else self.unit

    @property
    def fine(self) -> float:
        """The fine step in SI units: 1, 2 or 5 times a power of ten, about 1/500 of the range."""
        aim = max(self.high - self.low, 1e-9) / 500
        decade = 10.0 ** math.floor(math.log10(aim))
        return decade * max(m for m in (1, 2, 5) if m * decade <= aim * (1 + 1e-9))

    @property
    def digits(self) -> int:
        """Digits after the point that show one fine step."""
        return max(0, -math.floor(math.log10(self.fine / self.shown_in) + 1e-9))


class Knob(ui.element, component="knob.js"):
    """A slider and a number that stop at a rating and say why.

    Parameters
    ----------
    on_turn
        Called with the new value in SI units and the browser's clock in ms when it was turned.
    """

    def __init__(self, label: str, on_turn: Callable[[float, float], None]) -> None:
        super().__init__()
        self.props["label"] = label
        self._shown_in = 1.0
        self._value: float | None = None
        self._on_turn = on_turn
        self.on("turn", self._turned)

    def set_scale(self, scale: Scale) -> None:
        """Give the knob its travel."""
        self._shown_in = scale.shown_in
        put_prop(self, "unit", scale.shown_unit)
        put_prop(self, "digits", scale.digits)
        for name, value in {
            "low": scale.low,
            "high": scale.high,
            "fine": scale.fine,
            "coarse": 10 * scale.fine,
        }.items():
            put_prop(self, name, value / scale.shown_in)

    def set_stop(self, stop: float, why: str) -> None:
        """Let the knob go no further than this (SI units), and say why."""
        put_prop(self, "stop", stop / self._shown_in)
        put_prop(self, "why", why)

    def put(self, value: float) -> None:
        """Put the knob at a value (SI units) without calling `on_turn`."""
        if self._value != value:
            self._note(value)
            self.run_method("put", value / self._shown_in)

    def _turned(self, event: GenericEventArguments) -> None:
        # Rounded: the factor between units adds a little in the last places.
        value = float(f"{float(event.args['value']) * self._shown_in:.9g}")
        # The page shows it already. Sent back, it would overtake the next turn of a quick hand.
        self._note(value)
        self._on_turn(value, float(event.args["stamp"]))

    def _note(self, value: float) -> None:
        """Keep the value for a page that is drawn anew, without sending it to the page."""
        self._value = value
        with self.props.suspend_updates():
            self.props["value"] = value / self._shown_in
