"""What the real tube does in a question of a worksheet, by the bench model."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.explain.followed import usual_launch
from glowtrace.report.worksheets.content import Level
from glowtrace.report.worksheets.numbers import Numbers

_CLOSE: Final = 1e-4  # of a knob: how well a null or a focus is found
_FOCUS_FROM_TO: Final = (0.7, 1.5)  # of the current by the formula: where a focus is looked for
_SMALL: Final = 0.05  # of how far off the axis it is out of focus


@dataclass(frozen=True)
class Asked:
    """What a question is made from: the tube, the level and the learner's numbers."""

    prepared: PreparedBench
    level: Level
    numbers: Numbers

    @property
    def bench(self) -> Bench:
        """What stands on the table."""
        return self.prepared.bench

    @property
    def per_ampere(self) -> float:
        """Size of the coils' flux density by the textbook's formula, T/A."""
        return math.hypot(*flux_density_per_ampere(self.bench))

    def settings(
        self,
        accelerating: float,
        *,
        plate: float = 0.0,
        plate_reversed: bool = False,
        current: float = 0.0,
        current_reversed: bool = False,
        is_sharp: bool = True,
    ) -> Settings:
        """Give settings that this bench can be given.

        Parameters
        ----------
        accelerating, plate, current
            Of the three knobs, SI.
        plate_reversed, current_reversed
            Reversing switches.
        is_sharp
            Leave out what makes the line broad.
        """
        spread = not is_sharp
        settings = Settings(
            accelerating_voltage=accelerating, plate_voltage=plate, plate_reversed=plate_reversed,
            coil_current=current, coil_reversed=current_reversed, thermal_spread=spread,
            ripple=spread, divergence=spread,
        )  # fmt: skip
        if self.bench.plates is None or self.bench.supplies.plates is not None:
            return settings
        # Fed from the accelerating supply, the plate that is not tied to the anode is negative.
        tie = "lower at anode" if plate_reversed else "upper at anode"
        return settings.model_copy(update={"plate_source": "accelerating supply", "plate_tie": tie})


def height_at(prepared: PreparedBench, settings: Settings, x: float) -> float | None:
    """Give the height in m of the real line at x (m); None where it does not come there."""
    return _told(prepared.line_height(settings, x))


def null_current(prepared: PreparedBench, settings: Settings, x: float) -> float | None:
    """Give the coil current in A that brings the real beam back to the axis at x.

    `settings` have the plates' voltage, and the coils' polarity that opposes them.
    """
    top = knob_ranges(prepared.bench)["coil_current"].high

    def height(current: float) -> float:
        found = height_at(prepared, settings.model_copy(update={"coil_current": current}), x)
        return math.nan if found is None else found

    start = height(0.0)
    # The first step that takes the beam to the other side of the axis.
    low = 0.0
    for high in np.geomspace(0.002, 1.0, 24) * top:
        there = height(float(high))
        if math.isnan(start) or math.isnan(there):
            return None
        if there * start <= 0.0:
            return float(brentq(height, low, float(high), rtol=_CLOSE))
        low = float(high)
    return None


def circle_radius(prepared: PreparedBench, settings: Settings) -> float | None:
    """Give the radius in m of the real circle; None where it is too short."""
    return _told(prepared.fly(settings, usual_launch(prepared.bench)).circle_radius())


def farthest_height(prepared: PreparedBench, settings: Settings) -> float | None:
    """Give the height in m at which the real line first turns back; None where it never does."""
    return _told(prepared.line_turn(settings))


def _told(value: float) -> float | None:
    return None if math.isnan(value) else value


def focus_current(prepared: PreparedBench, settings: Settings, near: float) -> float | None:
    """Give the coil current in A at which an electron that leaves aslant ends on the axis.

    None where there is none around ``near`` that the bench allows. A field that is not the same
    all along does not focus by its mean: an electron that is far out counts it more.
    """
    top = min(_FOCUS_FROM_TO[1] * near, knob_ranges(prepared.bench)["coil_current"].high)

    def off_axis(current: float) -> float:
        now = settings.model_copy(update={"coil_current": current})
        points = prepared.fly(now, usual_launch(prepared.bench)).position
        return float(np.hypot(points[-1, 1], points[-1, 2]))

    found = minimize_scalar(
        off_axis, bounds=(_FOCUS_FROM_TO[0] * near, top), options={"xatol": _CLOSE * near}
    )
    is_focus = found.fun < _SMALL * off_axis(_FOCUS_FROM_TO[0] * near)
    return float(found.x) if is_focus else None
