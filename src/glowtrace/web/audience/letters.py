"""How large letters must be for the last row.

Rule: figures as high as 16 minutes of arc, the least height of characters in ISO 9241-303, which
prefers 20 to 22 (from memory). An eye of visual acuity 0.5, or 6/12, reads optotypes of 10 minutes
of arc (ISO 8596, from memory), so that it has some room left.
"""

from __future__ import annotations

import math
from typing import Final

FIGURE_ANGLE: Final = math.radians(16.0 / 60.0)
"""That the height of a figure takes up in the eye, rad."""


def figure_height(distance: float) -> float:
    """Give the height in m of figures that are read from a distance in m.

    Examples
    --------
    >>> round(1e3 * figure_height(10.0), 1)  # mm
    46.5
    """
    return 2.0 * distance * math.tan(FIGURE_ANGLE / 2.0)


def reading_distance(height: float) -> float:
    """Give the distance in m from which figures of a height in m are still read."""
    return height / (2.0 * math.tan(FIGURE_ANGLE / 2.0))


def letter_share(distance: float, width: float) -> float:
    """Give the height of figures as a share of a picture's width.

    Parameters
    ----------
    distance
        From the picture to the last row, m.
    width
        Of the whole projected or shown picture, m.
    """
    return figure_height(distance) / width
