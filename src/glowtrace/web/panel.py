"""The knobs and switches under the screen, as they stand on a bench."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from glowtrace.bench.model import Bench
from glowtrace.bench.ratings import KNOBS, knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.web.controls import Choice, Switch, box, words
from glowtrace.web.knob import Knob, Scale
from glowtrace.web.wiring import plate_range, settle
from glowtrace.words.bench import knob_label, tie_choices

REVERSING: Final = {"no": "normal", "yes": "reversed"}
SOURCES: Final = {"own supply": "own", "accelerating supply": "accelerating"}
CAUSES: Final = {
    "thermal_spread": "heat of the cathode",
    "ripple": "ripple of the supplies",
    "divergence": "divergence at the gun",
}


class Panel:
    """All knobs and switches, and the settings that they show.

    Parameters
    ----------
    bench, settings
        What the panel first shows.
    on_change
        Called with the new settings and the browser's clock in ms when the knob was turned (0
        where a switch was).
    """

    def __init__(
        self, bench: Bench, settings: Settings, on_change: Callable[[Settings, float], None]
    ) -> None:
        self._on_change = on_change
        with box("knobs", "section").props('aria-label="Knobs"'):
            self._knobs = {name: self._knob(name) for name in KNOBS}
        with self._knobs["accelerating_voltage"]:
            self._switches = {"heater_on": self._switch("heater_on", "Heater")}
            with box("fold", "details"):
                words("What makes the trace wide", "summary")
                with box("fold-content"):
                    self._switches |= {
                        cause: self._switch(cause, CAUSES[cause]) for cause in CAUSES
                    }
        with self._knobs["plate_voltage"]:
            self._choices = {
                "plate_reversed": self._choice("plate_reversed", "Polarity", REVERSING),
                "plate_tie": self._choice("plate_tie", "At anode", tie_choices()),
                "plate_source": self._choice("plate_source", "Supply", SOURCES),
            }
        with self._knobs["coil_current"]:
            self._choices["coil_reversed"] = self._choice("coil_reversed", "Polarity", REVERSING)
        self.put(bench, settings)

    def put(self, bench: Bench, settings: Settings) -> None:
        """Show a bench's knobs, set like this."""
        self._bench = bench
        self._ranges = knob_ranges(bench)
        for name, (low, high, _) in self._ranges.items():
            self._knobs[name].set_visibility(high > low)
            self._knobs[name].set_scale(Scale(low, high, KNOBS[name]))
        self._choices["plate_source"].set_visibility(bench.supplies.plates is not None)
        self._show(settings)

    def _show(self, settings: Settings) -> None:
        self._settings = settings
        stops = {**self._ranges, "plate_voltage": plate_range(self._ranges, settings)}
        for name, knob in self._knobs.items():
            knob.set_stop(stops[name].high, stops[name].why)
            knob.put(getattr(settings, name))
        for name, switch in self._switches.items():
            switch.put(getattr(settings, name))
        for name, choice in self._choices.items():
            value = getattr(settings, name)
            choice.put({True: "yes", False: "no"}.get(value, value))

    def _change(self, name: str, value: Any, stamp: float = 0.0) -> None:
        wanted = Settings.model_validate({**self._settings.model_dump(), name: value})
        self._show(settle(self._bench, self._ranges, wanted, name))
        self._on_change(self._settings, stamp)

    def _knob(self, name: str) -> Knob:
        return Knob(knob_label(name), lambda value, stamp: self._change(name, value, stamp))

    def _switch(self, name: str, label: str) -> Switch:
        return Switch(label, lambda is_on: self._change(name, is_on))

    def _choice(self, name: str, label: str, options: dict[str, str]) -> Choice:
        is_switch = options is REVERSING
        return Choice(
            label,
            options,
            lambda chosen: self._change(name, chosen == "yes" if is_switch else chosen),
        )
