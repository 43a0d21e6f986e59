"""What the meters showed while a photograph was taken."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Final

from nicegui import ui

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.measure.photograph_readings import KnobReadings
from glowtrace.measure.tables.readings import Reading
from glowtrace.photographs.photograph import PhotographError
from glowtrace.units import exact_text
from glowtrace.web.controls import box, field, words
from glowtrace.web.frame import Frame
from glowtrace.web.measure.cells import symbol_html
from glowtrace.web.naming import read_field

KNOBS: Final = {
    "accelerating_voltage": ("V_a", "V"),
    "plate_voltage": ("V_p", "V"),
    "coil_current": ("I", "A"),
}


class TakenAt:
    """Fields with signed values, filled with the settings of the page at first.

    Parameters
    ----------
    frame
        The page around it.
    on_change
        Called when another value was written.
    """

    def __init__(self, frame: Frame, on_change: Callable[[], object]) -> None:
        self._frame, self._on_change = frame, on_change
        settings = frame.preparation.settings
        self._values = {
            "accelerating_voltage": settings.accelerating_voltage,
            "plate_voltage": settings.signed_plate_voltage,
            "coil_current": settings.signed_coil_current,
        }
        with box("trio", "fieldset"):
            words("The meters showed (as planned, until you write yours)", "legend")
            for name in _knobs(frame.bench):
                self._field(name)

    def settings(self) -> Settings:
        """Give the settings that these values are."""
        plate, coil = self._values["plate_voltage"], self._values["coil_current"]
        update = {
            "accelerating_voltage": self._values["accelerating_voltage"],
            "plate_voltage": abs(plate),
            "plate_reversed": plate < 0,
            "coil_current": abs(coil),
            "coil_reversed": coil < 0,
        }
        return self._frame.preparation.settings.model_copy(update=update)

    def readings(self) -> KnobReadings:
        """Give the values as readings; a deflection of zero counts as not there.

        Raises
        ------
        PhotographError
            Plates and coils both deflect, or none does.
        """
        plate, coil = self._values["plate_voltage"], self._values["coil_current"]
        if bool(plate) == bool(coil):
            raise PhotographError(
                "a line is evaluated with either the plates or the coils on: write 0 for the other"
            )
        return KnobReadings(
            Reading(self._values["accelerating_voltage"]),
            Reading(plate) if plate else None,
            Reading(coil) if coil else None,
        )

    def _field(self, name: str) -> None:
        symbol, unit = KNOBS[name]
        with box("labelled", "label"):
            ui.html(symbol_html(symbol), sanitize=False, tag="span")
            text = exact_text(self._values[name], unit)
            take = partial(self._changed, name, unit)
            field(text, take, f"{symbol} while the photograph was taken")

    def _changed(self, name: str, unit: str, text: str) -> None:
        try:
            self._values[name] = read_field(text, unit, unit)
        except GlowtraceError as error:
            self._frame.say(f"{KNOBS[name][0]}: {error}")
            return
        self._frame.say("")
        self._on_change()


def _knobs(bench: Bench) -> tuple[str, ...]:
    return (
        "accelerating_voltage",
        *(("plate_voltage",) if bench.plates is not None else ()),
        *(("coil_current",) if bench.coils is not None else ()),
    )
