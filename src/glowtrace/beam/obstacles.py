"""What stops an electron: plates, the anode, the screen, the glass.

Every obstacle is met on the path between two accepted steps, which is known there as a polynomial
of fifth degree, so a hit is located to the accuracy of the trace and not of the step.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.fields.compiled import compiled

Array = NDArray[np.float64]
Vector = tuple[float, float, float]

FLYING, LEFT_MAP, GLASS, SCREEN, FIRST_ELECTRODE = range(5)
"""How a flight ends; electrodes are numbered from `FIRST_ELECTRODE` in their given order."""

_END_NAMES = ("still flying", "left the field map", "glass", "screen")
_RECTANGLE, _DISC = 0.0, 1.0
_NO_GLASS, _SPHERE, _CYLINDER = 0.0, 1.0, 2.0


@dataclass(frozen=True)
class Rectangle:
    """A flat rectangle: its middle (3,) and two full, perpendicular edge vectors (3,) in m."""

    centre: Vector
    edge_u: Vector
    edge_v: Vector


@dataclass(frozen=True)
class Disc:
    """A flat disc across the beam: its middle (3,) and radius in m.

    An aperture in it lets the beam out and nothing in: an electron that comes back to it has met
    the gun behind.
    """

    centre: Vector
    radius: float


@dataclass(frozen=True)
class Sphere:
    """A glass bulb: its middle (3,) and inner radius in m."""

    centre: Vector
    radius: float


@dataclass(frozen=True)
class Cylinder:
    """A glass tube round the x axis: its ends in x and its inner radius in m."""

    x_from: float
    x_to: float
    radius: float


class Obstacles(NamedTuple):
    """The obstacles in the form that the compiled kernels read; made by `obstacles`."""

    flat: Array
    """Rows (s, 13): kind, middle (3), unit normal (3), unit edge (3), two half sizes, end code."""
    glass: Array
    """(7,): kind, then middle (3) and radius, or x_from, x_to and radius."""


def obstacles(
    electrodes: dict[str, Rectangle | Disc],
    screen: Rectangle | None,
    glass: Sphere | Cylinder | None,
) -> tuple[Obstacles, tuple[str, ...]]:
    """Collect what can stop an electron; also gives the name of every end code."""
    named = [(shape, FIRST_ELECTRODE + n) for n, shape in enumerate(electrodes.values())]
    if screen is not None:
        named.append((screen, SCREEN))
    flat = np.zeros((len(named), 13))
    for row, (shape, code) in zip(flat, named, strict=True):
        row[1:4], row[12] = shape.centre, code
        if isinstance(shape, Disc):
            row[0], row[4], row[8], row[10] = _DISC, 1.0, 1.0, shape.radius
        else:
            u, v = np.array(shape.edge_u, dtype=float), np.array(shape.edge_v, dtype=float)
            normal = np.cross(u, v)
            row[0], row[4:7] = _RECTANGLE, normal / np.linalg.norm(normal)
            row[7:10] = u / np.linalg.norm(u)
            row[10:12] = np.linalg.norm(u) / 2, np.linalg.norm(v) / 2
    walls = np.zeros(7)
    if isinstance(glass, Sphere):
        walls[:5] = _SPHERE, *glass.centre, glass.radius
    elif isinstance(glass, Cylinder):
        walls[:4] = _CYLINDER, glass.x_from, glass.x_to, glass.radius
    return Obstacles(flat, walls), (*_END_NAMES, *electrodes)


@compiled()
def place_on(path: Array, s: float) -> tuple[float, float, float]:
    """Give the position at the fraction s of a step; ``path`` (3, 6) holds rising powers of s."""
    return (
        path[0, 0] + s * (path[0, 1] + s * (path[0, 2] + s * (path[0, 3] + s * (path[0, 4] + s * path[0, 5])))),
        path[1, 0] + s * (path[1, 1] + s * (path[1, 2] + s * (path[1, 3] + s * (path[1, 4] + s * path[1, 5])))),
        path[2, 0] + s * (path[2, 1] + s * (path[2, 2] + s * (path[2, 3] + s * (path[2, 4] + s * path[2, 5])))),
    )


@compiled()
def _height_above(path: Array, row: Array, s: float) -> float:
    x, y, z = place_on(path, s)
    return (x - row[1]) * row[4] + (y - row[2]) * row[5] + (z - row[3]) * row[6]


@compiled()
def _is_on(row: Array, x: float, y: float, z: float) -> bool:
    """Tell whether a point of the plane lies on the obstacle itself."""
    x, y, z = x - row[1], y - row[2], z - row[3]
    if row[0] == _DISC:
        return y * y + z * z <= row[10] * row[10]
    along = x * row[7] + y * row[8] + z * row[9]
    across_squared = x * x + y * y + z * z - along * along
    return abs(along) <= row[10] and across_squared <= row[11] * row[11]


@compiled()
def _beyond_glass(glass: Array, x: float, y: float, z: float) -> float:
    """Give a number that is positive outside the glass and grows with the distance."""
    if glass[0] == _SPHERE:
        x, y, z = x - glass[1], y - glass[2], z - glass[3]
        return x * x + y * y + z * z - glass[4] * glass[4]
    if glass[0] == _CYLINDER:
        side = y * y + z * z - glass[3] * glass[3]
        return max(side, x - glass[2], glass[1] - x)
    return -1.0


@compiled()
def first_plane_crossing(path: Array, row: Array, s_from: float, length: float) -> float:
    """Give the first fraction of a step, after ``s_from``, at which the path crosses a plane.

    Looks at quarters of the step, so that a path that dips through a plate and comes back within
    one step is seen too. Gives 2 where there is no crossing.
    """
    before = _height_above(path, row, s_from)
    after = _height_above(path, row, 1.0)
    if before * after > 0.0 and min(abs(before), abs(after)) > 0.5 * length:
        return 2.0
    low = s_from
    for quarter in range(1, 5):
        high = s_from + (1.0 - s_from) * 0.25 * quarter
        after = _height_above(path, row, high)
        if before * after < 0.0 or (after == 0.0 and before != 0.0):
            for _ in range(60):
                middle = 0.5 * (low + high)
                if middle <= low or middle >= high:
                    break
                if _height_above(path, row, middle) * before > 0.0:
                    low = middle
                else:
                    high = middle
            return high
        before, low = after, high
    return 2.0


@compiled()
def first_hit(path: Array, walls: Obstacles, field_low: Array, field_high: Array, length: float) -> tuple[float, int]:
    """Give the fraction of a step at which an electron ends, and the end code.

    Parameters
    ----------
    path
        Position as rising powers of the fraction of the step, (3, 6), in m.
    walls
        See `Obstacles`.
    field_low, field_high
        Corners (3,) of the region in which the fields are known, in m.
    length
        Length of the step in m.

    Returns
    -------
    tuple[float, int]
        The fraction and the code, or 2 and `FLYING` where nothing is met.
    """
    best, code = 2.0, FLYING
    for n in range(walls.flat.shape[0]):
        row = walls.flat[n]
        s = first_plane_crossing(path, row, 0.0, length)
        while s < best and s <= 1.0:
            x, y, z = place_on(path, s)
            if _is_on(row, x, y, z):
                best, code = s, int(row[12])
                break
            if s >= 1.0:
                break
            s = first_plane_crossing(path, row, s, length)
    x, y, z = place_on(path, 1.0)
    if _beyond_glass(walls.glass, x, y, z) > 0.0:
        low, high = 0.0, 1.0
        for _ in range(50):
            middle = 0.5 * (low + high)
            x, y, z = place_on(path, middle)
            if _beyond_glass(walls.glass, x, y, z) > 0.0:
                high = middle
            else:
                low = middle
        if high < best:
            best, code = high, GLASS
    for axis in range(3):
        for bound in range(2):
            edge = field_low[axis] if bound == 0 else field_high[axis]
            sign = -1.0 if bound == 0 else 1.0
            if sign * (path[axis, :].sum() - edge) > 0.0:
                low, high = 0.0, 1.0
                for _ in range(50):
                    middle = 0.5 * (low + high)
                    place = place_on(path, middle)
                    if sign * (place[axis] - edge) > 0.0:
                        high = middle
                    else:
                        low = middle
                if high < best:
                    best, code = high, LEFT_MAP
    return best, code
