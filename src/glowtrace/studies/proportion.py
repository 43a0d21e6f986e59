"""How well a share is known that so many rows show."""

from __future__ import annotations

import math

from scipy.stats import binomtest


def wilson(held: int, rows: int) -> tuple[float, float]:
    """Give between which a share lies with 95 % that ``held`` of ``rows`` show; NaN without rows.

    E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209.

    Examples
    --------
    >>> [round(end, 3) for end in wilson(189, 200)]
    [0.904, 0.969]
    """
    if not rows:
        return math.nan, math.nan
    within = binomtest(held, rows).proportion_ci(method="wilson")
    return float(within.low), float(within.high)
