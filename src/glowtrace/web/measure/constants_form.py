"""What is known about the constants of the tube that the readings depend on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from nicegui.elements.mixins.text_element import TextElement

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.errors import GlowtraceError
from glowtrace.measure.experiment import Known, relevant_constants
from glowtrace.measure.known_text import known_from_text
from glowtrace.measure.methods import Method
from glowtrace.measure.tube import TUBE_PARAMETERS, nominal_tube
from glowtrace.measure.usual_meters import usual_knowledge
from glowtrace.web.controls import box, complaint, field, hint, words
from glowtrace.web.measure.writing import value_text

FOUND: Final = ("plate_gap", "coil_constant")
"""What a fit for the tube's constants looks for."""

_EARTH: Final = "as the bench counts it"


class ConstantsForm:
    """A field for each constant; an empty one takes it as the bench has it, without uncertainty.

    Parameters
    ----------
    bench
        What stands there.
    on_change
        Called when something else was written.
    """

    def __init__(self, bench: Bench, on_change: Callable[[], object]) -> None:
        self._bench, self._on_change = bench, on_change
        self._texts: dict[str, str] = {}
        with box("fold", "details") as self._fold:
            words("Constants of the tube", "summary")
            hint(
                "Empty ones are taken as the grey text says. Write a value with its "
                "standard uncertainty, 49.0(3) mm; ± 0.3 mm for as drawn, so uncertain; or free, "
                "to have it fitted as well."
            )
            self._list = box("trio constants")

    @property
    def texts(self) -> Mapping[str, str]:
        """What is written of each constant, of other methods as well."""
        return {name: text for name, text in self._texts.items() if text.strip()}

    def put_texts(self, texts: Mapping[str, str]) -> None:
        """Show what was written before; names that are no constants are left out."""
        self._texts = {name: text for name, text in texts.items() if name in TUBE_PARAMETERS}
        self.put(self._method, self._model)

    def put(self, method: Method, model: Model) -> None:
        """Show the constants that readings of a method depend on."""
        self._method, self._model = method, model
        self._list.clear()
        drawn, usual = (
            nominal_tube(self._bench, model),
            usual_knowledge(self._bench, method=method, model=model),
        )
        with self._list:
            for name in self._names():
                title, unit, _ = TUBE_PARAMETERS[name]
                value = value_text(float(getattr(drawn, name)), unit, 4)
                known = usual.get(name)
                doubt = "exact" if known is None else f"± {value_text(known.uncertainty, unit)}"
                shown = _EARTH if name.startswith("earth") else value
                self._field(name, title, f"{shown}, {doubt}")
        if any(self._texts.get(name, "").strip() for name in self._names()):
            self._fold.props["open"] = True  # what counts in the fit must be in sight

    def known(self, *, finds_constants: bool) -> Mapping[str, Known]:
        """Give what was written, leaving out what the fit looks for.

        Raises
        ------
        GlowtraceError
            Something cannot be read.
        """
        left_out = FOUND if finds_constants else ()
        return {
            name: self._read(name, self._texts[name])
            for name in self._names()
            if self._texts.get(name, "").strip() and name not in left_out
        }

    def _names(self) -> tuple[str, ...]:
        found = relevant_constants([self._method], self._model)
        return tuple(name for name in found if name != "specific_charge")

    def _read(self, name: str, text: str) -> Known:
        try:
            return known_from_text(name, text.replace("−", "-"), self._bench, self._model)
        except GlowtraceError as error:
            raise error.within(_capital(TUBE_PARAMETERS[name][0])) from None

    def _field(self, name: str, title: str, drawn: str) -> None:
        with box("labelled", "label"):
            words(_capital(title))
            field(
                self._texts.get(name, ""), lambda text: self._changed(name, wrong, text), "", drawn
            )
            wrong = complaint(self._complaint(name))

    def _changed(self, name: str, wrong: TextElement, text: str) -> None:
        self._texts[name] = text
        wrong.text = self._complaint(name)
        self._on_change()

    def _complaint(self, name: str) -> str:
        text = self._texts.get(name, "")
        try:
            if text.strip():
                self._read(name, text)
        except GlowtraceError as error:
            return str(error)
        return ""


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
