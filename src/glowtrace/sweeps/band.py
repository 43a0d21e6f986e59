"""Where what is read may lie, with what is known about the numbers of the bench: 95 % bands."""

from __future__ import annotations

import math

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


def read_band(prepared: PreparedBench, settings: Settings, at: float, belief: Belief) -> Row:
    """Give the ends of the 95 % bands at one point, each name with its SI unit; NaN without one.

    Parameters
    ----------
    prepared, settings, at
        As for `glowtrace.sweeps.row.read_row`, in the bench model.
    belief
        See `belief_of`.
    """
    plane = prepared.plane
    if not belief.names:  # the one number with a doubt is the one that is turned
        names = ("spot_off_centre",) if plane.is_spot else ("height", "circle")[: 1 + plane.glows]
        return {end: math.nan for name in names for end in _ends(name, math.nan, math.nan)}
    found = predict(prepared, settings, belief=belief)
    if plane.is_spot:
        return _ends("spot_off_centre", *_off_centre(found))
    seen = _ends("height", *_around(_height(found, at)))
    if plane.glows:
        seen |= _ends("circle", *_around(_circle(found)))
    return seen


def _ends(name: str, low: float, high: float) -> dict[str, float]:
    return {f"{name}_low_m": low, f"{name}_high_m": high}


def _around(size: Height) -> tuple[float, float]:
    return size.value - FACTOR * size.uncertainty, size.value + FACTOR * size.uncertainty


_NOWHERE = Height(math.nan, math.nan)


def _height(found: Prediction, at: float) -> Height:
    try:
        return found.height(at)
    except GlowtraceError:  # the line never comes there
        return _NOWHERE


def _circle(found: Prediction) -> Height:
    """Give the diameter of the circle; linear in the numbers of the bench."""
    slopes = found.response.at_turn()
    if slopes is None:
        return _NOWHERE
    turn = found.prepared.line_turn(found.response.settings)
    shift = math.copysign(1.0, turn) * float(slopes @ found.belief.shift)
    return Height(abs(turn) + shift, found.belief.size(slopes))


def _off_centre(found: Prediction) -> tuple[float, float]:
    """Give the least and the greatest distance of the likely places of a spot from the centre."""
    ellipse = found.spot
    if ellipse is None:
        return math.nan, math.nan
    away = np.hypot(*ellipse.T)
    turns = np.diff(np.unwrap(np.arctan2(ellipse[:, 1], ellipse[:, 0]))).sum()
    return (0.0 if abs(turns) > math.pi else float(away.min())), float(away.max())
