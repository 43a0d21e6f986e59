"""Where what is read may lie, with what is known about the numbers of the bench: 95 % bands."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from glowtrace.bench.learning import Belief, learn
from glowtrace.bench.prediction import FACTOR, Height, Prediction, predict
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.sweeps.row import Row


def belief_of(prepared: PreparedBench, *, is_as_it_stands: bool) -> Belief:
    """Give what is believed about a bench's numbers.

    Parameters
    ----------
    prepared
        The bench; what its numbers do to the fields is computed here, which takes seconds.
    is_as_it_stands
        Whether it is the bench itself: what was seen on it says nothing of one with other numbers.
    """
    _ = prepared.effects
    return learn(prepared, None if is_as_it_stands else ()).after


def read_band(
    prepared: PreparedBench, settings: Settings, at: float, belief: Belief, row: Row
) -> Row:
    """Give the ends of the 95 % bands at one point, each name with its SI unit; NaN without one.

    Parameters
    ----------
    prepared, settings, at
        As for `glowtrace.sweeps.row.read_row`, in the bench model.
    belief
        See `belief_of`.
    row
        What was read there: where there is nothing, there is no band.
    """
    found: dict[str, tuple[float, float]] = {
        name: (math.nan, math.nan) for name in _BANDED if f"{name}_m" in row
    }
    seen = [name for name in found if math.isfinite(float(row[f"{name}_m"]))]
    if seen and belief.names:  # without any, the one doubtful number is the one that is turned
        likely = predict(prepared, settings, belief=belief)
        found |= {name: _BANDED[name](likely, at) for name in seen}
    return {
        f"{name}_{end}_m": value
        for name, ends in found.items()
        for end, value in zip(("low", "high"), ends, strict=True)
    }


def _height(found: Prediction, at: float) -> tuple[float, float]:
    try:
        return _around(found.height(at))
    except GlowtraceError:  # the line never comes there
        return math.nan, math.nan


def _circle(found: Prediction, _: float) -> tuple[float, float]:
    """Give the ends for the diameter of the circle; linear in the numbers of the bench."""
    slopes = found.response.at_turn()
    if slopes is None:
        return math.nan, math.nan
    turn = found.prepared.line_turn(found.response.settings)
    shift = math.copysign(1.0, turn) * float(slopes @ found.belief.shift)
    return _around(Height(abs(turn) + shift, found.belief.size(slopes)))


def _around(size: Height) -> tuple[float, float]:
    return size.value - FACTOR * size.uncertainty, size.value + FACTOR * size.uncertainty


def _off_centre(found: Prediction, _: float) -> tuple[float, float]:
    """Give the least and the greatest distance of the likely places of a spot from the centre."""
    ellipse = found.spot
    if ellipse is None:
        return math.nan, math.nan
    away = np.hypot(*ellipse.T)
    turns = np.diff(np.unwrap(np.arctan2(ellipse[:, 1], ellipse[:, 0]))).sum()
    return (0.0 if abs(turns) > math.pi else float(away.min())), float(away.max())


_BANDED: Final = {"height": _height, "circle": _circle, "spot_off_centre": _off_centre}
"""What has a band, by its name: gives both ends from a prediction and the place."""
