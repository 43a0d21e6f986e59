"""The knobs of a film by time: typed at a few moments, straight or held between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from glowtrace.bench.settings import Settings

Between = Literal["straight", "held"]
"""What is taken between two moments: a straight line, or the value of the earlier one."""
KNOBS: Final = ("accelerating_voltage", "plate_voltage", "coil_current")


@dataclass(frozen=True)
class KnobTimes:
    """Settings of which some knobs are turned in the course of a film."""

    settings: Settings
    moments: tuple[tuple[float, Mapping[str, float]], ...] = ()
    """Times in s since the film began, rising, and the knobs (SI) that were noted then; a value
    below 0 is set with the other polarity."""
    between: Between = "straight"

    @property
    def turned(self) -> tuple[str, ...]:
        """Which knobs are turned."""
        return tuple(knob for knob in KNOBS if any(knob in knobs for _, knobs in self.moments))

    def at(self, seconds: float) -> Settings:
        """Give the settings at a time; before the first and after the last moment nothing turns.

        Examples
        --------
        >>> base = Settings(accelerating_voltage=3000.0)
        >>> up = KnobTimes(base, ((2.0, {"plate_voltage": 0.0}), (4.0, {"plate_voltage": 500.0})))
        >>> [up.at(time).plate_voltage for time in (0.0, 3.0, 9.0)]
        [0.0, 250.0, 500.0]
        """
        knobs = {knob: self._value(knob, seconds) for knob in self.turned}
        return self.settings.turned(**knobs) if knobs else self.settings

    def _value(self, knob: str, seconds: float) -> float:
        noted = [(time, knobs[knob]) for time, knobs in self.moments if knob in knobs]
        times, values = zip(*noted, strict=True)
        if self.between == "straight":
            return float(np.interp(seconds, times, values))
        return float(values[max(0, int(np.searchsorted(times, seconds, side="right")) - 1)])

    def is_steady(self, start: float, end: float, *, but: str) -> bool:
        """Whether all knobs but one stay as they are from one time to another, in s."""
        inside = [time for time, _ in self.moments if start < time < end]
        others = [knob for knob in self.turned if knob != but]
        first = self._value_all(others, start)
        return all(self._value_all(others, time) == first for time in (*inside, end))

    def _value_all(self, knobs: Sequence[str], seconds: float) -> list[float]:
        return [self._value(knob, seconds) for knob in knobs]

    def stations(self) -> Sequence[Settings]:
        """Give the settings at all moments, or the one that holds throughout."""
        return [self.at(time) for time, _ in self.moments] or [self.settings]
