"""How sure one is of a number: measured, from a data sheet, a guess, or not known at all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.bench.ranges import Quantity
from glowtrace.units import QuantityError, exact_text, parse_measurement
from glowtrace.web.bench.draft import Draft
from glowtrace.web.controls import VALUE, words

TYPED_EVERY: Final = 0.4
EXACT: Final = "exact"


class Size(NamedTuple):
    """What a word usually stands for: a part of the value, and at least so much, in SI."""

    part: float
    least_length: float
    least_angle: float


SIZES: Final = {
    "measured": Size(0.0, 1e-3, 0.5),
    "data sheet": Size(0.01, 0.1e-3, 0.2),
    "guess": Size(0.05, 1e-3, 1.0),
    "don’t know": Size(0.15, 3e-3, 2.0),
}
"""Standard uncertainties to begin with, least angles in degrees; guesses, no source. What is typed
goes before."""
_ROOM: Final = 0.3
"""Part of the way to what is not allowed that they leave open at most."""
_LEAST: Final = 0.005
"""Of all that is neither length nor angle, as a part of the value."""


class Sureness:
    """The menu of a number, with how far it may be off. Building it puts it on the page.

    Parameters
    ----------
    name
        Of the number, for those who do not see it.
    paths
        Of its fields: three for a point, which are known alike.
    quantity
        Its unit; None for a count, such as turns.
    draft
        Gives what is typed now.
    on_change
        Called with the new draft.
    """

    def __init__(
        self,
        name: str,
        paths: Sequence[str],
        quantity: Quantity | None,
        draft: Callable[[], Draft],
        on_change: Callable[[Draft], None],
    ) -> None:
        self._paths, self._quantity = paths, quantity
        self._draft, self._on_change = draft, on_change
        around, source = draft().around(paths[0]), draft().source(paths[0])
        with ui.element("select").classes("picker sureness") as menu:
            menu.props["aria-label"] = f"{name}: how sure"
            chosen = (source if source in SIZES else "measured") if around else EXACT
            for word in (EXACT, *SIZES):
                option = words(word, "option")
                option.props["value"] = word
                option.props["selected"] = word == chosen
        menu.on("change", self._chosen, js_handler=VALUE)
        self._to = words("to", css="number-unit")
        self._size = ui.element("input").classes("field sureness-size")
        self._size.props('type="text" autocomplete="off"')
        self._size.props["aria-label"] = f"{name}: standard uncertainty"
        self._size.on("input", self._typed, js_handler=VALUE, throttle=TYPED_EVERY,
                      leading_events=False)  # fmt: skip
        self._source = chosen
        self._show(around)

    def _chosen(self, event: GenericEventArguments) -> None:
        self._source = str(event.args)
        around = "" if self._source == EXACT else self._usual(SIZES[self._source])
        self._show(around)
        self._tell(around)

    def _typed(self, event: GenericEventArguments) -> None:
        text = str(event.args).strip()
        unit = self._quantity.unit if self._quantity else "1"
        if text and unit != "1" and not text[-1:].isalpha() and not text.endswith("%"):
            text = f"{text} {'deg' if unit == 'rad' else unit}"
        self._tell(text)

    def _tell(self, around: str) -> None:
        source = "" if self._source == EXACT else self._source
        self._on_change(self._draft().known_to(self._paths, around, source))

    def _show(self, around: str) -> None:
        self._size.props["^value"] = around
        self._size.update()
        for each in (self._to, self._size):
            each.set_visibility(bool(around))

    def _usual(self, size: Size) -> str:
        """Write what a word usually stands for, for the value that is typed now."""
        return usual_size(size, self._draft().texts.get(self._paths[0], ""), self._quantity)


def usual_size(size: Size, text: str, quantity: Quantity | None) -> str:
    """Write what a word usually stands for beside a value; small ones are not drowned by it."""
    unit = quantity.si_unit if quantity else "1"
    if unit == "rad":
        return f"{size.least_angle:g} deg"
    try:
        value = parse_measurement(text, unit).value
    except QuantityError:
        value = 0.0
    least = size.least_length if unit == "m" else _LEAST * abs(value)
    found = max(size.part * abs(value), least)
    if quantity is not None:
        room = [_ROOM * abs(value - limit) for limit in quantity.limits if limit != value]
        found = min(found, *room)
    return exact_text(float(f"{found:.2g}") or 1.0, quantity.unit if quantity else "1")
