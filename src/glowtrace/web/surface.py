"""What a bench's screen looks like on the page: frame, grid, glow, and what stands around it.

Places on a screen are u and v in m, as pictures have them: along a sheet, across an end face, or
the picture plane of a glowing gas.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench

PHOSPHOR_GLOW: Final = (92, 240, 196)
GAS_GLOW: Final = (128, 176, 255)
ROOM_MM: Final = 1.0
BLUR_MM: Final = 0.2
"""Radius (1 sigma) of the light around one landing: grain and scattering make it 0.4 mm wide."""

Edges = tuple[float, float, float, float]
Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Box:
    """A rectangle on the screen, in m; the 16-bit numbers reach from edge to edge."""

    u_low: float
    u_high: float
    v_low: float
    v_high: float

    def grown(self, share: float) -> Box:
        """Give the box with `share` of its size added on every side."""
        du = share * (self.u_high - self.u_low)
        dv = share * (self.v_high - self.v_low)
        return Box(self.u_low - du, self.u_high + du, self.v_low - dv, self.v_high + dv)

    def holds(self, points: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tell which of the points (n, 2) lie in the box; NaN never does."""
        low = np.array([self.u_low, self.v_low])
        high = np.array([self.u_high, self.v_high])
        inside = (points >= low) & (points <= high)
        return inside[:, 0] & inside[:, 1]

    @property
    def millimetres(self) -> Edges:
        """The edges u_low, u_high, v_low, v_high in mm."""
        return 1e3 * self.u_low, 1e3 * self.u_high, 1e3 * self.v_low, 1e3 * self.v_high


@dataclass(frozen=True)
class Surface:
    """What the page draws a picture on. Lengths in mm, as the page's script wants them.

    `extent_mm` is the screen itself; `view_mm` takes in the outlines of plates or bulb around it.
    `half_light` is the light that looks half as bright as the brightest: share of the electrons
    per mm2 on phosphor, path length per mm2 and electron in gas.
    """

    extent_mm: Edges
    view_mm: Edges
    grid_mm: float
    blur_mm: float
    half_light: float
    glow: tuple[int, int, int]
    across: str
    up: str
    mirrored: bool
    outlines_mm: tuple[Outline, ...]


def screen_box(bench: Bench) -> Box:
    """Give the extent of the bench's screen in its own coordinates (u, v)."""
    return Box(*bench.plane.extent)


def surface_of(bench: Bench) -> Surface:
    """Give what the page draws this bench's pictures on."""
    plane, box = bench.plane, screen_box(bench)
    is_gas, is_face = plane.glows, plane.is_spot
    along_mm = 1e3 * (box.u_high - box.u_low)
    outlines = tuple(_outlines(bench))
    return Surface(
        extent_mm=box.millimetres,
        view_mm=_around(box.millimetres, outlines),
        grid_mm=1e3 * plane.grid_pitch,
        blur_mm=2 * BLUR_MM if is_gas else BLUR_MM,
        half_light=0.2 if is_gas else 0.02 if is_face else 0.35 / along_mm,
        glow=GAS_GLOW if is_gas else PHOSPHOR_GLOW,
        across="z" if is_face else "u" if _is_inclined(bench) else "x",
        up="y",
        mirrored=plane.is_mirrored,
        outlines_mm=outlines,
    )


def light_unit(bench: Bench) -> float:
    """Give one unit of `Surface.half_light` in SI: per m² on phosphor, m per m² in gas."""
    return 1e3 if bench.plane.glows else 1e6


def usual_density(bench: Bench) -> float:
    """Give how dense the light of a usual trace is, in SI: twice what looks half as bright."""
    return 2.0 * surface_of(bench).half_light * light_unit(bench)


def _is_inclined(bench: Bench) -> bool:
    """Tell whether lengths along the sheet differ visibly (by 2 %) from those along the beam."""
    return bench.plane.is_line and bench.plane.cosine < 0.98


def _around(extent: Edges, outlines: tuple[Outline, ...]) -> Edges:
    """Give the edges of a view that holds the screen and the outlines, with a little room."""
    if not outlines:
        return extent
    us, vs = zip(*(point for outline in outlines for point in outline), strict=True)
    low_u, high_u = min(extent[0], *us), max(extent[1], *us)
    return low_u, high_u, min(extent[2], *vs) - ROOM_MM, max(extent[3], *vs) + ROOM_MM


def _outlines(bench: Bench) -> list[Outline]:
    """Give the plates seen from the side, and the bulb, in mm."""
    plane = bench.plane
    outlines = [_in_mm(ends) for ends in plane.plates(bench.plates)]
    bulb = plane.bulb(bench.envelope)
    if bulb is not None:
        u, v, radius = bulb
        turn = np.linspace(0.0, 2 * math.pi, 97)
        outlines.append(
            _in_mm(np.array([u, v]) + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1))
        )
    return outlines


def _in_mm(places: NDArray[np.float64]) -> Outline:
    return tuple((u, v) for u, v in (1e3 * places).tolist())
