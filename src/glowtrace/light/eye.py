"""What an eye needs to see a thin bright line: a threshold in cd/m² over its background.

The threshold is that of W. Adrian, Visibility of targets: model for calculation, Lighting Research
and Technology 21 (1989) 181, for a young observer who has two seconds. Its formulas were read in an
implementation by a university (TU Berlin, evaluation of road lighting); that of a road-lighting
standard, read there too, has 4.2841 for 4.1925, 1.3 % apart. The factor 2.6 is from memory. Small
targets follow Ricco's law (luminance times area), large ones Weber's (constant contrast). As
published, a small target would need less light where the background rises from 0.004 to 0.011
cd/m², and at 0.6 cd/m²; here the threshold never falls. The model is given for 23 to 75 years: the
eyes of pupils are outside it and are counted as young ones.
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
_DIM: Final = 0.00418
_BRIGHT: Final = 0.6
"""cd/m² at which the three ranges of the model meet."""


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
    minutes = math.degrees(angle) * 60.0
    dark, dim, bright = (
        OBSERVER * (root_flux / minutes + root_luminance) ** 2
        for root_flux, root_luminance in (
            _in_the_dark(np.minimum(adapted, _DIM)),
            _in_dim_light(np.clip(adapted, _DIM, _BRIGHT)),
            _in_bright_light(np.maximum(adapted, _BRIGHT)),
        )
    )
    # Past a range its formula is held at its end. A parabola falls before it rises: what the dark
    # end of the range needs is never undercut.
    dim = np.maximum(dim, dark)
    in_range = np.where(adapted > _DIM, dim, dark)
    return np.asarray(np.where(adapted >= _BRIGHT, np.maximum(bright, dim), in_range))


def _in_the_dark(adapted: Array) -> tuple[Array, Array]:
    """Root of the flux that a small disc needs, and root of the luminance that a large one needs.

    As the two below, of the background in cd/m²; the disc's diameter is in minutes of arc.
    """
    log = np.log10(adapted)
    return 10.0 ** (0.028 + 0.173 * log), 10.0 ** (-0.891 + 0.5275 * log + 0.0227 * log**2)


def _in_dim_light(adapted: Array) -> tuple[Array, Array]:
    log = np.log10(adapted)
    return 10.0 ** (-0.072 + 0.3372 * log + 0.0866 * log**2), 10.0 ** (-1.256 + 0.319 * log)


def _in_bright_light(adapted: Array) -> tuple[Array, Array]:
    flux = np.log10(4.1925 * adapted**0.1556) + 0.1684 * adapted**0.5867
    return flux, 0.05946 * adapted**0.466
