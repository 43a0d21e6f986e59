"""Appearances of many draws side by side, so that a statement judges all of them at once."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from glowtrace.demos.classification import CODE, KINDS
from glowtrace.faults.appearance import Appearance, path_length, spaced_evenly
from glowtrace.faults.circles import Circles, circles

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
    lift, width, far_width, brightness, aside, stretch, filament, haze, flickers, creep, \
    meter_high_tension, meter_coils, meter_plates, is_misread
        As in `Appearance`; lengths are nan where it is dark.
    kind
        Codes of the kinds of picture, as in `glowtrace.demos.classification`.
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
    kind: Array
    aside: Array
    stretch: Array
    filament: Array
    haze: Array
    flickers: Array
    creep: Array
    meter_high_tension: Array
    meter_coils: Array
    meter_plates: Array
    is_misread: Array
    line: Array
    length: Array

    @property
    def centre(self) -> Array:
        """Middle (n, 2) of a spot."""
        return self.line[:, 0]

    @cached_property
    def circle(self) -> Circles:
        """The circle of a line in gas."""
        return circles(self.line)

    def is_kind(self, kinds: Collection[str]) -> Array:
        """Give 1 (n,) where the picture is of one of these kinds, else 0."""
        return np.isin(self.kind, [CODE[kind] for kind in kinds]).astype(np.float64)

    def one(self, draw: int) -> Appearance:
        """Give one draw as an appearance."""
        is_lit = bool(self.lit[draw])
        return Appearance(
            is_lit=is_lit,
            line=self.line[draw] if is_lit else np.zeros((0, 2)),
            kind=KINDS[int(self.kind[draw])],
            flickers=bool(self.flickers[draw]),
            is_misread=bool(self.is_misread[draw]),
            **{name: float(getattr(self, name)[draw]) for name in _NUMBERS},
        )


_OTHERS = {"line", "kind", "flickers", "is_misread"}
_SHARED = {each.name for each in fields(Look)} & {each.name for each in fields(Appearance)}
_NUMBERS: Final = tuple(sorted(_SHARED - _OTHERS))
"""What both have as numbers."""


def stacked(appearances: Sequence[Appearance]) -> Look:
    """Put appearances side by side."""

    def column(name: str) -> Array:
        return np.array([float(getattr(one, name)) for one in appearances])

    return Look(
        lit=column("is_lit"),
        kind=np.array([float(CODE[one.kind]) for one in appearances]),
        flickers=column("flickers"),
        is_misread=column("is_misread"),
        line=np.stack([spaced_evenly(one.line) for one in appearances]),
        length=np.array([path_length(one.line)[-1] for one in appearances]),
        **{name: column(name) for name in _NUMBERS},
    )


def more_than(value: Array, limit: Array | float, softness: float = READ_TO) -> Array:
    """Give the chance (n,) that a value is judged to pass a limit; 0 where there is no value."""
    return np.nan_to_num(ndtr((value - limit) / softness), nan=0.0)
