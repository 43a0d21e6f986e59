"""Where the fields of a bench are tabulated and how finely: boxes within each other.

The outermost box is where electrons can go within the glass. Where its cells would be too coarse
for the gap of the plates, a finer box holds the plates and the beam between them; the smallest one
holds the beam in front of the aperture, whose own field is as small as the aperture.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench, EndFace, GasGlow, Gun, Plates, Sheet, Sphere
from glowtrace.fields.interpolation import Grid

Array = NDArray[np.float64]

_CELLS_ACROSS_GAP = 35
_FREE_CELL = 0.004
"""Cell of the map in m where only coils make a field."""
_MOST_CELLS = 250_000
_ROOM_BESIDE_BEAM = 0.010
"""Distance in m from the beam and the sheet to the sides of the map."""
_OUTER_CELLS, _PLATE_CELLS = 90_000, 150_000
"""At most, where the plates have a box of their own."""
_FINE_CELLS = 20
"""Cells across the gap in that box. Along the beam the field changes over a gap, and sideways less:
the cells are two and four times as long there."""
_PLATES_REACH = 4.0
"""Gaps in front of and behind the plates to the ends of their box."""
_PLATES_HEIGHT = 2.0
"""Gaps from the middle of the plates to the top of their box."""
_SIDE_ROOM = 1.4
"""Widths of beam and half the gap to the sides of that box, where its field gives way."""
_APERTURE_REACH = 4.0
"""Heights of the aperture from it to the end of its box, where hardly any of its field is left."""
_SMEARED = 3.0
"""Cells of the box around it that the aperture's box reaches at least: so far its field is lost
in theirs."""
_CELLS_ALONG, _CELLS_ACROSS = 10, 16
"""Cells to the height of the aperture, along the beam and across it."""
_MOST_ALONG = 128
COARSER = np.array([2.0, 1.5, 3.0])
"""Cells where thousands of benches are computed, in those of one bench: along, up and across the
beam. That adds a third to the error of E that a map states, and moves a line by half of it."""


def map_grids(bench: Bench) -> tuple[Grid, ...]:
    """Choose the boxes of a bench's field map and their cells, the outermost first.

    Beside a grazed sheet the outer box ends a centimetre from the beam; an electron that strays
    further ends as "left the field map".
    """
    low, high = _outer_box(bench)
    volume = float(np.prod(high - low))
    cell = bench.plates.gap / _CELLS_ACROSS_GAP if bench.plates else _FREE_CELL
    least = (volume / _MOST_CELLS) ** (1 / 3)
    if bench.plates is None or cell >= least:
        return (_even_grid(low, high, max(cell, least)),)
    outer = _even_grid(low, high, (volume / _OUTER_CELLS) ** (1 / 3))
    return outer, _plates_grid(bench.gun, bench.plates, _last_x(bench), outer)


def coarser(grid: Grid) -> Grid:
    """Give the same box in the cells that many benches are computed with; see `COARSER`."""
    sizes = np.array(grid.highest) - np.array(grid.lowest)
    counts = np.maximum(np.ceil(sizes / (grid.spacing * COARSER) - 1e-9), 4).astype(int)
    return Grid(grid.lowest, grid.highest, tuple(counts.tolist()))


def aperture_grid(gun: Gun, around: Grid) -> Grid:
    """Choose the box in front of the aperture; ``around`` is the finest box that it lies in."""
    height, width = gun.aperture_height, gun.aperture_width
    reach = max(_APERTURE_REACH * height, _SMEARED * float(around.spacing[0]))
    reach = min(reach, around.highest[0])
    cell = height / _CELLS_ACROSS
    aside = max(cell, width / (2 * _CELLS_ALONG))
    half_height = height / 2 + 1.5 * cell + reach * math.tan(gun.divergence_vertical)
    half_width = width / 2 + 1.5 * aside + reach * math.tan(gun.divergence_sideways)
    counts = (reach * _CELLS_ALONG / height, 2 * half_height / cell, 2 * half_width / aside)
    nx, ny, nz = (min(math.ceil(count), _MOST_ALONG) for count in counts)
    return Grid((0.0, -half_height, -half_width), (reach, half_height, half_width), (nx, ny, nz))


def _outer_box(bench: Bench) -> tuple[Array, Array]:
    """Give the corners (3,) in m of the box within the glass where electrons can go."""
    envelope, screen = bench.envelope, bench.screen
    r = envelope.radius
    if isinstance(envelope, Sphere):
        low, high = np.array(envelope.centre) - r, np.array(envelope.centre) + r
    else:
        low, high = np.array([envelope.x_from, -r, -r]), np.array([envelope.x_to, r, r])
    if not isinstance(screen, GasGlow):
        low[0] = 0.0
    if isinstance(screen, EndFace):
        high[0] = min(high[0], screen.x + 2 * _FREE_CELL)
    elif isinstance(screen, Sheet):
        beside = _ROOM_BESIDE_BEAM + max(
            abs(screen.z_from), abs(screen.z_to), bench.gun.aperture_width / 2
        )
        low[2], high[2] = max(low[2], -beside), min(high[2], beside)
    return low, high


def _even_grid(low: Array, high: Array, cell: float) -> Grid:
    cells = np.maximum(np.ceil((high - low) / cell), 4).astype(int)
    return Grid(tuple(low.tolist()), tuple(high.tolist()), tuple(cells.tolist()))


def _last_x(bench: Bench) -> float:
    screen = bench.screen
    return screen.x if isinstance(screen, EndFace) else screen.x_to


def _plates_grid(gun: Gun, plates: Plates, last_x: float, outer: Grid) -> Grid:
    """Choose the box of the plates, with nodes on the plates and at their near edges."""
    gap, end = plates.gap, plates.start + plates.length
    tilted = max(abs(math.sin(tilt)) for tilt in (plates.tilt_upper, plates.tilt_lower))
    height = _PLATES_HEIGHT * gap + plates.length / 2 * tilted
    first, last = plates.start - _PLATES_REACH * gap, end + _PLATES_REACH * gap
    first, last = max(first, outer.lowest[0]), min(last, outer.highest[0])
    beam = gun.aperture_width / 2 + min(end, last_x) * math.tan(gun.divergence_sideways)
    beside = _SIDE_ROOM * (beam + gap / 2)
    volume = (last - first) * 2 * height * 2 * beside
    finest = 8 * (gap / _FINE_CELLS) ** 3
    stretch = max(1.0, (volume / finest / _PLATE_CELLS) ** (1 / 3))
    half_gap_cells = max(2, round(_FINE_CELLS / stretch / 2))
    dy = gap / 2 / half_gap_cells
    dx = 2 * dy
    if first == outer.lowest[0]:  # it begins exactly there: on the face of the anode
        dx = (plates.start - first) / max(1, round((plates.start - first) / dx))
    middle = plates.height_offset
    x = _cells_from(plates.start, dx, first, last)
    y = _cells_from(
        middle, dy, max(middle - height, outer.lowest[1]), min(middle + height, outer.highest[1])
    )
    z = _cells_from(0.0, 4 * dy, max(-beside, outer.lowest[2]), min(beside, outer.highest[2]))
    (x0, x1, nx), (y0, y1, ny), (z0, z1, nz) = x, y, z
    if first == outer.lowest[0]:
        x0 = first
    return Grid((x0, y0, z0), (x1, y1, z1), (nx, ny, nz))


def _cells_from(node: float, cell: float, low: float, high: float) -> tuple[float, float, int]:
    """Give low end, high end and count of the whole cells within limits, with a node at a place."""
    before, after = (math.floor(abs(end - node) / cell + 1e-9) for end in (low, high))
    return node - before * cell, node + after * cell, before + after
