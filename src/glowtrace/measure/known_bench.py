"""What a bench's own uncertainties say about the constants of its tube."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.knowledge import knowledge_of, moved
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.measure.experiment import Known, relevant_constants
from glowtrace.measure.methods import Method
from glowtrace.measure.tube import nominal_tube

Array = NDArray[np.float64]

_STEP: Final = 0.1
"""By which part of its uncertainty a number is moved."""
ASIDE: Final = {
    "grid_tilt": ("slack.beam_rise",),
    "grid_shift": ("slack.beam_height", "slack.grid_height"),
    "earth_x": ("slack.stray_field[0]",),
    "earth_y": ("slack.stray_field[1]",),
    "earth_z": ("slack.stray_field[2]",),
}
"""Constants that move by as much as these numbers do."""
_RELATED: Final = 1e-6
"""Correlation below which two constants count as known apart."""


def known_by_bench(bench: Bench, method: Method, model: Model) -> dict[str, Known]:
    """Give the constants that the bench's doubts make uncertain; none where it is exact.

    Linear: each constant moves as the bench's drawing makes it move, and constants that hang on
    the same numbers are known together. Meters are not in it; they have their own uncertainties.
    """
    knowledge = knowledge_of(bench)
    names = [name for name in relevant_constants([method], model) if name != "specific_charge"]
    if not knowledge.names or not names:
        return {}
    slopes = np.array([_slopes(bench, name, model) for name in knowledge.names])
    rows = np.array([[each.get(name, 0.0) for each in slopes] for name in names])
    covariance = rows @ knowledge.covariance @ rows.T
    sizes = np.sqrt(np.diag(covariance))
    known = {}
    for n, name in enumerate(names):
        if not sizes[n] > 0.0:
            continue
        related = tuple(
            (other, float(covariance[n, m] / sizes[n] / sizes[m]))
            for m, other in enumerate(names)
            if m != n and sizes[m] > 0.0 and abs(covariance[n, m]) > _RELATED * sizes[n] * sizes[m]
        )
        known[name] = Known(None, float(sizes[n]), related)
    return known


def _slopes(bench: Bench, number: str, model: Model) -> dict[str, float]:
    """Give the change of each constant for each unit of a number."""
    if number.startswith("slack."):
        return {constant: 1.0 for constant, names in ASIDE.items() if number in names}
    step = _STEP * knowledge_of(bench).uncertainty(number)
    down, up = (nominal_tube(moved(bench, number, side * step), model) for side in (-1.0, 1.0))
    found = {
        name: (getattr(up, name) - getattr(down, name)) / (2.0 * step)
        for name in ("plate_gap", "plate_length", "coil_constant")
    }
    if model == "bench" and number == "plates.length" and bench.plates is not None:
        # Traced electrons know one constant of the plates: longer ones act as closer ones do.
        found["plate_gap"] = -bench.plates.gap / bench.plates.length
    return {name: each for name, each in found.items() if math.isfinite(each) and each != 0.0}
