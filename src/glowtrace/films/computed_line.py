"""The computed line of a film's frame, smooth: the heights that the bench has everywhere."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.electron import AXIS
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings

Array = NDArray[np.float64]

_SAMPLES: Final = 300
_NODES: Final = 9
"""Places at which the electron that draws the line just there is flown."""


class ComputedLine(NamedTuple):
    """Places (m,) in the picture plane, along the line; m."""

    u: Array
    v: Array

    def at(self, u: Array) -> Array:
        """Give the heights at places (s,); nan where the line does not come by."""
        if len(self.u) < 2:
            return np.full(len(u), np.nan)
        order = np.argsort(self.u)
        heights = np.interp(u, self.u[order], self.v[order], left=np.nan, right=np.nan)
        return np.asarray(heights)


def computed_line(prepared: PreparedBench, settings: Settings) -> ComputedLine:
    """Give the line that the real fields make.

    The way of one electron, moved by what other electrons, which draw the line at each place of a
    sheet, lie beside it (`PreparedBench.line_height`). It ends where the electron meets a part.
    """
    bench = prepared.bench
    ray = prepared.ray(settings, AXIS, through="sheet", samples=_SAMPLES)
    u, v = bench.plane.coordinates(ray.position) if len(ray.position) else (np.zeros(0),) * 2
    low, _, high, _ = bench.plane.rectangle
    inside = (u >= low - 1e-3) & (u <= high + 1e-3)
    u, v = u[inside], v[inside]
    if not bench.plane.is_line or len(u) < 3 or (np.diff(u) <= 0).any():
        return ComputedLine(u, v)
    nodes = np.linspace(max(u[0], low), u[-1], _NODES)
    lines = [prepared.line_height(settings, float(bench.plane.x_of(each))) for each in nodes]
    beside = np.array(lines) - np.interp(nodes, u, v)
    known = np.isfinite(beside)
    if known.any():
        v = v + np.interp(u, nodes[known], beside[known])
    return ComputedLine(u, v)
