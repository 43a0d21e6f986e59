"""The groups' results as a drawing: a histogram, and below it each group with its uncertainty."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.lesson.reading import ClassResult
from glowtrace.units import fixed

WIDTH, ROW, BARS = 640, 26, 90
LEFT, RIGHT = 84, 16
TEXT: Final = "fill='#f0dfc2' font-size='15'"
QUIET: Final = "fill='#b3a58b' font-size='15'"


def class_figure(result: ClassResult) -> str:
    """Give the drawing as SVG; the pooled value is a band, the accepted one a dashed line."""
    pooled = result.pooled
    assert pooled is not None
    own = pooled.uncertainties
    ends = np.concatenate([pooled.values - own, pooled.values + own, [SPECIFIC_CHARGE]])
    low, high = float(ends.min()), float(ends.max())
    room = 0.06 * (high - low)
    low, high = low - room, high + room

    def x(value: float) -> float:
        return LEFT + (value - low) / (high - low) * (WIDTH - LEFT - RIGHT)

    bottom = BARS + ROW * len(result.measured) + 8
    band = x(pooled.value - result.uncertainty), x(pooled.value + result.uncertainty)
    parts = [
        f"<rect x='{band[0]:.1f}' y='0' width='{band[1] - band[0]:.1f}' height='{bottom}' "
        "fill='#f0dfc2' fill-opacity='0.16'/>",
        *_bars(pooled.values, low, high),
    ]
    for n, group in enumerate(result.measured):
        y = BARS + ROW * n + ROW / 2
        assert group.value is not None
        is_out = group.group in result.lying_out
        colour = "#ff9d76" if is_out else "#f0dfc2"
        note = ", lies out" if is_out else ""
        parts.append(f"<text x='0' y='{y + 5:.1f}' {TEXT}>group {group.group}</text>")
        parts.append(
            f"<path d='M{x(group.value - group.own):.1f} {y:.1f}H{x(group.value + group.own):.1f}' "
            f"stroke='{colour}' stroke-width='2'/>"
            f"<circle cx='{x(group.value):.1f}' cy='{y:.1f}' r='4.5' fill='{colour}'>"
            f"<title>group {group.group}{note}</title></circle>"
        )
    at = x(SPECIFIC_CHARGE)
    parts.append(
        f"<path d='M{at:.1f} 0V{bottom}' stroke='#f0dfc2' stroke-dasharray='5 5'/>"
        f"<text x='{at:.1f}' y='{bottom + 18}' text-anchor='middle' {QUIET}>accepted</text>"
    )
    for value, anchor in ((low + room, "start"), (high - room, "end")):
        if abs(x(value) - at) > 110:
            parts.append(
                f"<text x='{x(value):.1f}' y='{bottom + 18}' text-anchor='{anchor}' {QUIET}>"
                f"{fixed(1e-11 * value, 2)}</text>"
            )
    parts.append(
        f"<text x='0' y='{bottom + 18}' {QUIET}>10<tspan dy='-5' font-size='11'>11</tspan>"
        "<tspan dy='5'> C/kg</tspan></text>"
    )
    told = f"Results of {len(result.measured)} groups, the pooled value and the accepted one"
    return (
        f"<svg viewBox='0 0 {WIDTH} {bottom + 28}' role='img' aria-label='{told}'>"
        f"{''.join(parts)}</svg>"
    )


def _bars(values: NDArray[np.float64], low: float, high: float) -> list[str]:
    """Give a histogram with about as many bars as the root of the number of groups."""
    count = max(4, 2 * math.ceil(math.sqrt(len(values))))
    heights, edges = np.histogram(values, bins=count, range=(low, high))
    wide = (WIDTH - LEFT - RIGHT) / count
    return [
        f"<rect x='{LEFT + wide * n + 1:.1f}' y='{BARS - 70 * h / heights.max():.1f}' "
        f"width='{wide - 2:.1f}' height='{70 * h / heights.max():.1f}' fill='#8f846f'>"
        f"<title>{h} from {fixed(1e-11 * edge, 2)}</title></rect>"
        for n, (h, edge) in enumerate(zip(heights.tolist(), edges[:-1], strict=True))
        if h
    ]
