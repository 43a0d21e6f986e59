"""A spot, a circle or a line that turns back against the computed one.

Like is compared with like: a circle is fitted to the computed line as to the read one, at the
places beside those that are read.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from glowtrace.bench.computed_line import ComputedLine
from glowtrace.bench.prediction import ELLIPSE, FACTOR, Prediction
from glowtrace.photographs.circle import fit_circle
from glowtrace.photographs.photograph import PhotographError
from glowtrace.web.camera.comparison import READ, length_mm, off_words, verdict_words

Array = NDArray[np.float64]

_FEWEST: Final = 12
"""Places of a curve that are compared."""
_ROUND: Final = 0.03
"""Part of its radius to which the middle of a large spot is read."""
_ARC: Final = math.radians(90.0)
"""Of a circle whose diameter is told: a shorter one hangs on a small bend."""
_NOT_ROUND: Final = 0.03
"""Part of the radius that a line may be off a circle."""
_AGREES: Final = 0.9
"""Part of the places that lie within their doubts where lines agree: common practice, no source."""

Words = tuple[str, str]
"""The difference, and what it means."""


def spot_words(
    read: Array, radius: float, computed: ComputedLine, prediction: Prediction | None
) -> Words:
    """Compare the middle of a spot (2,) in m, z and y, with that of the beam's axis."""
    if not len(computed.u):
        return "", "No spot is computed at these settings."
    off = read - computed.places[-1]
    known = None if prediction is None else prediction.spot_spread
    whole = math.hypot(READ, _ROUND * radius) ** 2 * np.eye(2)
    shift = np.zeros(2)
    if known is not None:
        whole, shift = whole + known.covariance, known.shift
    rest = off - shift
    far = math.sqrt(float(rest @ np.linalg.solve(whole, rest)))
    sideways, high = (
        off_words(float(each), FACTOR * math.sqrt(variance))
        for each, variance in zip(off, np.diag(whole).tolist(), strict=True)
    )
    said = f"Read minus computed: sideways (z) {sideways}, height {high}."
    return said, verdict_words(far <= ELLIPSE, known is not None)


def curve_words(read: Array, computed: ComputedLine, prediction: Prediction | None) -> Words:
    """Compare places (n, 2) of a line of any shape, in m, with the computed one.

    Of a circle diameter and middle are told, of other lines how far they are apart.
    """
    piece = computed.first_piece
    if len(piece) < _FEWEST:
        return "", "No line is computed at these settings."
    if len(read) < _FEWEST:
        return "", ""
    off, nearest = _across(read, piece)
    spread, shift = _known_beside(piece[nearest], prediction)
    doubt = FACTOR * np.hypot(READ, spread)
    within = float((np.abs(off - shift) <= doubt).mean())
    circle = _circle_words(read, piece[nearest], prediction) if computed.plane.glows else ""
    worst = int(np.abs(off).argmax())
    said = (
        f"Across the line, read minus computed: root mean square "
        f"{length_mm(float(np.sqrt(np.mean(off**2))))}, largest "
        f"{length_mm(float(abs(off[worst])))} ± {length_mm(float(doubt[worst]))} (95 %)."
    )
    knows = prediction is not None
    return f"{circle} {said}".strip(), verdict_words(within >= _AGREES, knows)


def _across(read: Array, piece: Array) -> tuple[Array, NDArray[np.intp]]:
    """Give how far to the left of a line (k, 2) places (n, 2) lie, and the nearest point of it."""
    _, nearest = KDTree(piece).query(read)
    along = np.gradient(piece, axis=0)[nearest]
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    away = read - piece[nearest]
    return along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0], np.asarray(nearest)


def _known_beside(places: Array, prediction: Prediction | None) -> tuple[Array, Array]:
    """Give spread (n,) and shift (n,) of the computed line beside places, to its left in m."""
    nothing = np.zeros(len(places))
    if prediction is None:
        return nothing, nothing
    plane, response = prediction.prepared.plane, prediction.response
    line = np.stack(plane.coordinates(response.position), axis=1)
    told = np.isfinite(prediction.spread)
    if not told.any():
        return nothing, nothing
    _, nearest = KDTree(line[told]).query(places)
    return prediction.spread[told][nearest], prediction.shift[told][nearest]


def _circle_words(read: Array, beside: Array, prediction: Prediction | None) -> str:
    """Say by how much diameter and middle of a circle differ, or why that cannot be told."""
    try:
        seen, computed = fit_circle(read), fit_circle(np.unique(beside, axis=0))
    except PhotographError:
        return "A straight line has no diameter to compare."
    if seen.arc < _ARC:
        return "Too little of the circle is seen to compare its diameter."
    if any(each.rms_residual > _NOT_ROUND * each.radius for each in (seen, computed)):
        return "The line is no circle: no diameter is compared."
    own = 0.0 if prediction is None else _diameter_spread(prediction)
    # What a map does to one side of a circle it does to the other one the other way.
    doubt = FACTOR * math.hypot(2.0 * READ, own)
    along, high = (
        off_words(a - b, doubt / 2.0) for a, b in zip(seen.centre, computed.centre, strict=True)
    )
    diameter = off_words(seen.diameter - computed.diameter, doubt)
    return (
        f"Circle, read minus computed: diameter {diameter}, "
        f"middle {along} along the beam and {high} in height."
    )


def _diameter_spread(prediction: Prediction) -> float:
    """Standard uncertainty in m of the computed diameter; 0 where the line does not turn."""
    slopes = prediction.response.at_turn()
    return 0.0 if slopes is None else prediction.belief.size(slopes)
