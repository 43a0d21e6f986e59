"""The line of a live camera against the computed one: how far apart, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.computed_line import ComputedLine
from glowtrace.bench.prediction import FACTOR, Height, Prediction
from glowtrace.errors import GlowtraceError
from glowtrace.units import fixed

Array = NDArray[np.float64]

READ: Final = 0.15e-3
"""Standard uncertainty of the line as it is read live, m: 0.02 mm on rendered films; real lenses
and glass are reckoned with (an estimate, no source)."""
TOLD: Final = 5e-6
"""m from which a length is told."""
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
    moved
        How far what was learnt about the bench moves the computed line up there.
    """

    x: float
    off: float
    doubt: float
    knows_bench: bool
    largest: float
    moved: float = 0.0

    @property
    def agrees(self) -> bool:
        """Whether the difference, less what was learnt, is within its doubt."""
        return abs(self.off - self.moved) <= self.doubt


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
    at = float(np.median(u[last]))
    x = computed.plane.x_of(at)
    known = _known(prediction, x)
    return Comparison(
        x,
        float(np.median(off[last])),
        FACTOR * math.hypot(READ, 0.0 if known is None else known.uncertainty),
        known is not None,
        float(off[np.abs(off).argmax()]),
        0.0 if known is None else known.value - float(computed.at(np.array([at]))[0]),
    )


def comparison_words(found: Comparison) -> tuple[str, str]:
    """Say the difference and what it means."""
    said = (
        f"Read minus computed at x = {length_mm(found.x, 1)}: {off_words(found.off, found.doubt)}."
    )
    learnt = ""
    if abs(found.moved) >= TOLD:
        learnt = f" What was learnt about the bench moves it by {length_mm(found.moved)}."
    return (
        f"{said}{learnt} Largest along the line: {length_mm(found.largest)}.",
        verdict_words(found.agrees, found.knows_bench),
    )


def off_words(off: float, doubt: float) -> str:
    """Say a difference with half of its 95 % range, m."""
    return f"{fixed(1e3 * off, 2, signed=True)} ± {fixed(1e3 * doubt, 2)} mm (95 %)"


def verdict_words(agrees: bool, knows_bench: bool) -> str:
    """Say what a difference means."""
    if agrees:
        return "They agree within the doubt."
    if knows_bench:
        return "More than the doubt explains."
    return "More than reading explains; how well the bench is known is not told (page Bench)."


def handed(read: Array) -> tuple[tuple[float, float], ...]:
    """Give a few points (u, v) in mm at equal distances along a read line, as drawn ones are."""
    if len(read) < _FEWEST:
        return ()
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(read, axis=0).T))])
    wanted = np.linspace(0.0, along[-1], _HANDED)
    return in_mm(np.stack([np.interp(wanted, along, read[:, n]) for n in (0, 1)], axis=1))


def in_mm(places: Array) -> tuple[tuple[float, float], ...]:
    """Give places (n, 2) of m in mm, to a tenth."""
    return tuple((round(1e3 * float(u), 1), round(1e3 * float(v), 1)) for u, v in places)


def _known(prediction: Prediction | None, x: float) -> Height | None:
    if prediction is None:
        return None
    try:
        return prediction.height(x)
    except GlowtraceError:
        return None


def length_mm(length: float, digits: int = 2) -> str:
    """Write a length of m in mm: what is read live is known to a tenth of one."""
    return f"{fixed(1e3 * length, digits)} mm"
