"""The instruments of a table of readings, as a person would read them off."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from nicegui.elements.mixins.text_element import TextElement

from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import Method
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.usual_meters import meter_title, usual_meter
from glowtrace.web.controls import box, complaint, field, hint, words
from glowtrace.web.measure.draft import MeterText, instrument_from, meter_text

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
            hint(
                "Write what is on yours. Limits of error hold for all readings of a meter alike; "
                "the step and the eye are new with every reading."
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
                hint(f"{' and '.join(own)}: {given}")
            for name in names:
                self._put_meter(name, instruments.get(name) or usual_meter(name, method))

    def _put_meter(self, name: str, instrument: Instrument) -> None:
        self._texts[name] = meter_text(instrument, name)
        with box("trio meter", "fieldset"):
            words(meter_title(name), "legend")
            for each, (label, example) in _FIELDS.items():
                self._put_field(name, each, label, example)

    def _put_field(self, name: str, part: str, label: str, example: str) -> None:
        with box("labelled", "label"):
            words(label)
            field(
                getattr(self._texts[name], part),
                lambda typed: self._changed(name, part, wrong, typed),
                f"{meter_title(name)}: {label.lower()}",
                example,
            )
            wrong = complaint()

    def _changed(self, name: str, part: str, wrong: TextElement, typed: str) -> None:
        text = replace(self._texts[name], **{part: typed})
        self._texts[name] = text
        try:
            found = instrument_from(text, name)
        except GlowtraceError as error:
            wrong.text = str(error)
            return
        wrong.text = ""
        self._on_change(name, found)
