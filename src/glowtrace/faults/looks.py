"""Appearances of many draws side by side, so that a statement judges all of them at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from glowtrace.faults.appearance import Appearance, path_length, spaced_evenly

Array = NDArray[np.float64]

READ_TO = 0.7e-3
"""Standard deviation in m with which a height or a movement on the screen is judged by eye."""
NOTICED = 2e-3
"""Movement in m that is called one."""


@dataclass(frozen=True, eq=False)
class Look:
    """What n draws look like; each array is (n,) unless it says otherwise, lengths in m.

    Attributes
    ----------
    lit
        1 where a line or a spot is there, else 0.
    lift, width, far_width, brightness, filament, haze, flickers, creep, meter_high_tension, \
    meter_coils, is_misread
        As in `Appearance`; lengths are nan where it is dark.
    line
        (n, 24, 2) points of the line's middle at equal distances along it; nan where it is dark.
    length
        Of the line.
    """

    lit: Array
    lift: Array
    width: Array
    far_width: Array
    brightness: Array
    filament: Array
    haze: Array
    flickers: Array
    creep: Array
    meter_high_tension: Array
    meter_coils: Array
    is_misread: Array
    line: Array
    length: Array

    @property
    def centre(self) -> Array:
        """Middle (n, 2) of a spot."""
        return self.line[:, 0]

    def one(self, draw: int) -> Appearance:
        """Give one draw as an appearance."""
        is_lit = bool(self.lit[draw])
        return Appearance(
            is_lit,
            self.line[draw] if is_lit else np.zeros((0, 2)),
            float(self.lift[draw]),
            float(self.width[draw]),
            float(self.far_width[draw]),
            float(self.brightness[draw]),
            float(self.filament[draw]),
            float(self.haze[draw]),
            bool(self.flickers[draw]),
            float(self.creep[draw]),
            float(self.meter_high_tension[draw]),
            float(self.meter_coils[draw]),
            bool(self.is_misread[draw]),
        )


def stacked(appearances: Sequence[Appearance]) -> Look:
    """Put appearances side by side."""

    def column(name: str) -> Array:
        return np.array([float(getattr(one, name)) for one in appearances])

    return Look(
        lit=column("is_lit"),
        lift=column("lift"),
        width=column("width"),
        far_width=column("far_width"),
        brightness=column("brightness"),
        filament=column("filament"),
        haze=column("haze"),
        flickers=column("flickers"),
        creep=column("creep"),
        meter_high_tension=column("meter_high_tension"),
        meter_coils=column("meter_coils"),
        is_misread=column("is_misread"),
        line=np.stack([spaced_evenly(one.line) for one in appearances]),
        length=np.array([path_length(one.line)[-1] for one in appearances]),
    )


def more_than(value: Array, limit: Array | float, softness: float = READ_TO) -> Array:
    """Give the chance (n,) that a value is judged to pass a limit; 0 where there is no value."""
    return np.nan_to_num(ndtr((value - limit) / softness), nan=0.0)
