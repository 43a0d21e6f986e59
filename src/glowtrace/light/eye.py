"""What an eye needs to see a thin bright line: a threshold in cd/m² over its background.

The threshold is that of W. Adrian, Visibility of targets: model for calculation, Lighting Research
and Technology 21 (1989) 181, for a young observer who has two seconds; its formulas are written
from memory and held in the tests against contrast thresholds of another source. Small targets
follow Ricco's law (luminance times area), large ones Weber's (constant contrast).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

OBSERVER: Final = 2.6
"""For nearly certain seeing within two seconds (99.93 %)."""
EASE: Final = 5.0
"""How many times the threshold a class needs to see it at once, without knowing where to look."""
SUMMED_LENGTH: Final = math.radians(0.5)
"""Length of a line over which the eye adds up its light, rad (from memory, 0.3 to 1 degree)."""
_DARKEST: Final = 1e-6
"""cd/m² below which the eye's own light counts instead."""


def line_angle(width: float, length: float, distance: float) -> float:
    """Give the diameter in rad of the disc that has the area of a line as the eye adds it up.

    Parameters
    ----------
    width, length
        Of the line, m.
    distance
        From the eye, m.
    """
    seen_width = width / distance
    seen_length = min(length / distance, max(SUMMED_LENGTH, seen_width))
    return 2.0 * math.sqrt(seen_width * seen_length / math.pi)


def threshold(background: Array | float, angle: float) -> Array:
    """Give the luminance in cd/m² by which a disc must be brighter than its background to be seen.

    Parameters
    ----------
    background
        Luminance in cd/m² that the eye is adapted to.
    angle
        Diameter of the disc, rad.
    """
    adapted = np.maximum(np.asarray(background, dtype=float), _DARKEST)
    log = np.log10(adapted)
    bright = adapted >= 0.6
    dim = adapted > 0.00418
    # Root of the flux that a small disc needs, and root of the luminance that a large one needs.
    root_flux = np.where(
        bright,
        np.log10(4.1925 * adapted**0.1556) + 0.1684 * adapted**0.5867,
        10.0 ** np.where(dim, -0.072 + 0.3372 * log + 0.0866 * log**2, 0.028 + 0.173 * log),
    )
    root_luminance = np.where(
        bright,
        0.05946 * adapted**0.466,
        10.0 ** np.where(dim, -1.256 + 0.319 * log, -0.891 + 0.5275 * log + 0.0227 * log**2),
    )
    minutes = math.degrees(angle) * 60.0
    return np.asarray(OBSERVER * (root_flux / minutes + root_luminance) ** 2)
