"""The line of a live camera against the computed one: how far apart, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.computed_line import ComputedLine
from glowtrace.bench.prediction import FACTOR, Prediction
from glowtrace.errors import GlowtraceError
from glowtrace.units import format_quantity

Array = NDArray[np.float64]

READ: Final = 0.15e-3
"""Standard uncertainty of the line as it is read live, m: 0.02 mm on rendered films; real lenses
and glass are reckoned with (an estimate, no source)."""
_FEWEST: Final = 8
"""Places at which the line must be seen."""
_HANDED: Final = 15
"""Points that are handed on."""


@dataclass(frozen=True)
class Comparison:
    """How far the read line is above the computed one, in m.

    Attributes
    ----------
    x
        Where along the beam.
    off, doubt
        Read minus computed there, and half of its 95 % range.
    knows_bench
        Whether the doubt of the computed line is in it.
    largest
        The difference of the largest size along the line.
    """

    x: float
    off: float
    doubt: float
    knows_bench: bool
    largest: float

    @property
    def agrees(self) -> bool:
        """Whether the difference is within its doubt."""
        return abs(self.off) <= self.doubt


def compare(
    read: Array, computed: ComputedLine, prediction: Prediction | None
) -> Comparison | None:
    """Compare at the last tenth of the read line; None where too little of both is there.

    Parameters
    ----------
    read
        (n, 2) u and v in m.
    computed
        With one height at each place.
    prediction
        How well the computed line is known; None where nobody told.
    """
    u, v = read.T
    off = v - computed.at(u)
    both = np.isfinite(off)
    if both.sum() < _FEWEST:
        return None
    u, off = u[both], off[both]
    last = slice(-max(3, len(u) // 10), None)
    x = computed.plane.x_of(float(np.median(u[last])))
    spread = _spread(prediction, x)
    return Comparison(
        x,
        float(np.median(off[last])),
        FACTOR * math.hypot(READ, spread or 0.0),
        spread is not None,
        float(off[np.abs(off).argmax()]),
    )


def comparison_words(found: Comparison) -> tuple[str, str]:
    """Say the difference and what it means."""
    off, doubt = (_mm(each) for each in (found.off, found.doubt))
    sign = "" if found.off < 0 else "+"
    said = f"Read minus computed at x = {_mm(found.x)}: {sign}{off} ± {doubt} (95 %)."
    largest = f"Largest along the line: {_mm(found.largest)}."
    if found.agrees:
        return f"{said} {largest}", "They agree within the doubt."
    if found.knows_bench:
        return f"{said} {largest}", "More than the doubt explains."
    told = "More than reading explains; how well the bench is known is not told (page Bench)."
    return f"{said} {largest}", told


def handed(read: Array) -> tuple[tuple[float, float], ...]:
    """Give a few points (u, v) in mm of a read line, as a drawn line has them."""
    if len(read) < _FEWEST:
        return ()
    u = np.linspace(read[0, 0], read[-1, 0], _HANDED)
    v = np.interp(u, read[:, 0], read[:, 1])
    return tuple((round(1e3 * a, 1), round(1e3 * b, 1)) for a, b in zip(u, v, strict=True))


def seen(u: Sequence[float | None], v: Sequence[float | None]) -> Array:
    """Give the places (n, 2) in m of what the page told in mm; ValueError where it makes no sense.

    Examples
    --------
    >>> seen([1.0, 2.0], [None, 3.0]).tolist()
    [[0.002, 0.003]]
    """
    pairs = [
        (float(a), float(b)) for a, b in zip(u, v, strict=True) if a is not None and b is not None
    ]
    places = 1e-3 * np.array(pairs, dtype=float).reshape(-1, 2)
    if not np.isfinite(places).all():
        raise ValueError("no numbers")
    return places


def _spread(prediction: Prediction | None, x: float) -> float | None:
    if prediction is None:
        return None
    try:
        return prediction.height(x).uncertainty
    except GlowtraceError:
        return None


def _mm(length: float) -> str:
    return format_quantity(length, "mm", 3 if abs(length) >= 0.01 else 2)
