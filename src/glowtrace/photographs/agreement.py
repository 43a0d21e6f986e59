"""Whether a line in a photograph can be the trace of the settings at all.

A wrong map, or a reflection taken for the trace, gives a smooth line with small uncertainties. It
is far from where the textbook has the trace, and a circle does not fit on the screen. Nothing is
corrected by this: what is grossly off is told, and a circle larger than the screen is refused.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy import spatial

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.demos.textbook import textbook_trace
from glowtrace.photographs.circle import Circle
from glowtrace.photographs.photograph import PhotographError
from glowtrace.photographs.trace_line import TraceLine
from glowtrace.units import shortest

_FAR: Final = 0.25
"""Distance from the textbook's trace, relative to its extent, beyond which it is told: the ideal
model misses the deflection of a bench by a tenth or so."""
_HAND: Final = 3e-3
"""And in m: tubes stand a little askew."""
_BEYOND: Final = 1.1
"""By how much a circle may be larger than the screen."""


def far_from_settings(line: TraceLine, bench: Bench, settings: Settings) -> str | None:
    """Say how far a line lies from where the settings put it; None where that is likely enough."""
    if len(line.kept) == 0:
        return None
    trace = textbook_trace(bench, settings)
    predicted = np.column_stack([trace.u, trace.v])
    u0, v0, u1, v1 = line.screen_map.rectangle
    inside = ((predicted >= [u0, v0]) & (predicted <= [u1, v1])).all(axis=1)
    if not inside.any():
        return None
    # The textbook's trace may end early, and the line have gaps: the better of both ways counts.
    there, _ = spatial.KDTree(line.kept.places).query(predicted[inside])
    back, _ = spatial.KDTree(predicted[inside]).query(line.kept.places)
    off = float(min(np.median(there), np.median(back)))
    if off <= _FAR * float(np.ptp(trace.v[inside])) + _HAND:
        return None
    return (
        f"the line lies {shortest(round(1e3 * off))} mm from where the settings put it: check the "
        "settings, the grid points, and which line was found"
    )


def require_on_screen(circle: Circle, line: TraceLine) -> None:
    """Refuse a circle that is larger than the screen on which it is seen.

    Raises
    ------
    PhotographError
        It is.
    """
    u0, v0, u1, v1 = line.screen_map.rectangle
    largest = max(u1 - u0, v1 - v0)
    if circle.diameter > _BEYOND * largest:
        raise PhotographError(
            f"a circle of {shortest(round(1e3 * circle.diameter))} mm does not fit on a screen of "
            f"{shortest(round(1e3 * largest))} mm; check the grid points, or take the points out "
            "that are not of the trace"
        )
