"""How far what acts on the beam may be off from what meters and description say.

Six numbers that any picture hangs on: the accelerating voltage, the fields of plates and coils,
each as a part of itself, and the three components of a field that nobody mentioned, in T. Linear in
what is known of the bench, by the textbook's fields.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.knowledge import moved
from glowtrace.bench.learning import Belief
from glowtrace.bench.model import Bench

Array = NDArray[np.float64]

METER: Final = 0.02
"""Standard uncertainty of each field, as a part of it, where the bench tells none: common practice,
no source."""
STRAY: Final = 5e-6
"""The same in T for each component of the flux density that any room has."""
_METERS: Final = ("slack.accelerating_meter", "slack.plate_meter", "slack.coil_meter")
_STEP: Final = 0.1
"""Part of its uncertainty by which a number is moved."""


@dataclass(frozen=True, eq=False)
class ActingErrors:
    """Mean (6,) and covariance (6, 6): gun, plates, coils, and the stray field's x, y, z."""

    mean: Array
    covariance: Array

    def drawn(self, generator: np.random.Generator) -> Array:
        """Draw one (6,)."""
        values, axes = np.linalg.eigh(self.covariance)
        root = axes * np.sqrt(np.maximum(values, 0.0)) @ axes.T
        return np.asarray(self.mean + root @ generator.standard_normal(6))


def acting_errors(bench: Bench, belief: Belief) -> ActingErrors:
    """Give how far what acts may be off by what is believed; as is usual where all is exact."""
    if not belief.names:
        usual = np.array([METER] * 3 + [STRAY] * 3)
        return ActingErrors(np.zeros(6), np.diag(usual**2))
    sizes = np.sqrt(np.diag(belief.covariance))
    rows = np.array([_row(bench, *each) for each in zip(belief.names, sizes, strict=True)]).T
    return ActingErrors(rows @ belief.shift, rows @ belief.covariance @ rows.T)


def _row(bench: Bench, name: str, size: float) -> Array:
    """Give the changes (6,) for each unit of a number."""
    row = np.zeros(6)
    if name in _METERS:
        row[_METERS.index(name)] = 1.0
    elif name.startswith("slack.stray_field["):
        row[3 + int(name[-2])] = 1.0
    elif not name.startswith("slack."):
        step = _STEP * size
        down, up = (_fields(moved(bench, name, side * step)) for side in (-1.0, 1.0))
        row[1:3] = (up - down) / (2.0 * step)
    return row


def _fields(bench: Bench) -> Array:
    """Give the logarithms (2,) of what plates and coils do to a beam, but for factors that stay."""
    plates, flux = bench.plates, math.hypot(*flux_density_per_ampere(bench))
    return np.array(
        [
            math.log(plates.length / plates.gap) if plates else 0.0,
            math.log(flux) if flux > 0.0 else 0.0,
        ]
    )
