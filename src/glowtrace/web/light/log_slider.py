"""A slider over several decades, with its value in words beside it."""

from __future__ import annotations

import math
from collections.abc import Callable

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.web.controls import TYPED, VALUE, put_prop, words

_STEPS = 240
_EVERY_S = 0.12


class LogSlider(ui.element):
    """A slider whose equal steps are equal factors.

    Parameters
    ----------
    label
        What it sets.
    low, high, value
        In SI units; low above zero.
    write
        Gives a value in words.
    on_turn
        Called with the new value while it is turned.
    """

    def __init__(
        self,
        label: str,
        low: float,
        high: float,
        value: float,
        write: Callable[[float], str],
        on_turn: Callable[[float], object],
    ) -> None:
        super().__init__("label")
        self.classes("row is-written spread log-slider")
        self._low, self._high, self._write, self._on_turn = low, high, write, on_turn
        self._step = self._step_of(value)
        with self:
            words(label, css="quiet")
            self._shown = words(write(value), "output", "log-value")
            slider = ui.element("input").classes("slider")
            slider.props(f'type="range" min="0" max="{_STEPS}" step="1"')
            slider.props[TYPED] = self._step
            slider.props["aria-label"] = label
            slider.props["aria-valuetext"] = write(value)
            slider.on("input", self._turned, js_handler=VALUE, throttle=_EVERY_S)
        self._slider = slider

    def put(self, value: float) -> None:
        """Show a value; the slider moves only where it stands elsewhere."""
        self._say(value)
        step = self._step_of(value)
        if abs(step - self._step) > 1:  # values are rounded, so that a step may lie beside its own
            self._step = step
            self.client.run_javascript(f"getHtmlElement({self._slider.id}).value = {step}")

    def _step_of(self, value: float) -> int:
        held = min(max(value, self._low), self._high)
        return round(_STEPS * math.log(held / self._low) / math.log(self._high / self._low))

    def _say(self, value: float) -> None:
        self._shown.text = self._write(value)
        put_prop(self._slider, "aria-valuetext", self._write(value))

    def _turned(self, event: GenericEventArguments) -> None:
        self._step = round(float(event.args))
        value = self._low * (self._high / self._low) ** (self._step / _STEPS)
        value = float(f"{value:.2g}")
        self._say(value)
        self._on_turn(value)
