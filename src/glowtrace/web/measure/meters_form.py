"""The instruments of a table of readings, as a person would read them off."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement
from nicegui.events import GenericEventArguments

from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import Method
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.usual_meters import meter_title, usual_meter
from glowtrace.web.controls import VALUE, box, words
from glowtrace.web.measure.draft import MeterText, instrument_from, meter_text
from glowtrace.web.naming import TYPED

_FIELDS = {
    "specification": ("Limits of error", "0.5 % of reading + 2 digits"),
    "resolution": ("Smallest step", "1 V"),
    "judgement": ("Read by eye", "none"),
}


class MetersForm:
    """Fields for each instrument.

    Parameters
    ----------
    on_change
        Called with the name of an instrument and what it is now.
    """

    def __init__(self, on_change: Callable[[str, Instrument], object]) -> None:
        self._on_change = on_change
        self._texts: dict[str, MeterText] = {}
        with box("fold meters", "details") as fold:
            fold.props["open"] = True
            words("Meters and ruler", "summary")
            words(
                "Write what is on yours. Limits of error hold for all readings of a meter alike; "
                "the step and the eye are new with every reading.",
                "p",
                "hint",
            )
            self._list = box("meter-list")

    def put(
        self, method: Method, names: tuple[str, ...], instruments: Mapping[str, Instrument]
    ) -> None:
        """Show the instruments of a method."""
        self._texts = {}
        self._list.clear()
        with self._list:
            own = [name for name in instruments if name not in names]
            if own:
                given = "as the photograph gives them, with their uncertainties"
                words(f"{' and '.join(own)}: {given}", "p", "hint")
            for name in names:
                self._put_meter(name, instruments.get(name) or usual_meter(name, method))

    def _put_meter(self, name: str, instrument: Instrument) -> None:
        self._texts[name] = text = meter_text(instrument, name)
        with box("trio meter", "fieldset"):
            words(meter_title(name), "legend")
            for field, (label, example) in _FIELDS.items():
                with box("labelled", "label"):
                    words(label)
                    entry = ui.element("input").classes("field")
                    entry.props('type="text" autocomplete="off" spellcheck="false"')
                    entry.props[TYPED] = getattr(text, field)
                    entry.props["placeholder"] = example
                    entry.props["aria-label"] = f"{meter_title(name)}: {label.lower()}"
                    wrong = words("", "p", "field-complaint").props('role="alert"')
                    entry.on("change", partial(self._changed, name, field, wrong), js_handler=VALUE)

    def _changed(
        self, name: str, field: str, wrong: TextElement, event: GenericEventArguments
    ) -> None:
        text = replace(self._texts[name], **{field: str(event.args)})
        self._texts[name] = text
        try:
            found = instrument_from(text, name)
        except GlowtraceError as error:
            wrong.text = str(error)
            return
        wrong.text = ""
        self._on_change(name, found)
