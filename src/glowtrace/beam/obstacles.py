"""What stops an electron: plates, the anode, the screen, the glass.

Every obstacle is met on the path between two accepted steps, which is known there as a polynomial
of fifth degree, so a hit is located to the accuracy of the trace and not of the step.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.compiled import compiled

Array = NDArray[np.float64]
Vector = tuple[float, float, float]
Coefficients = tuple[float, float, float, float, float, float]

FLYING, LEFT_MAP, GLASS, SCREEN, FIRST_ELECTRODE = range(5)
"""How a flight ends; electrodes are numbered from `FIRST_ELECTRODE` in their given order."""

_END_NAMES = ("still flying", "left the field map", "glass", "screen")
_FRACTION_ERROR = 1e-12
"""Error with which the fraction of a step is found at which something is met."""
_ON_PLANE = 1e-13
"""Distance in m within which a path counts as having reached a plane."""
_SAME_PLACE = 1e-9
"""Distance in m within which two surfaces count as being met at one place: a thousand times what
the rounding of a step leaves, and far below anything that is seen."""
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
    glass: tuple[float, float, float, float, float]
    """Kind, then middle (3) and radius, or x_from, x_to and radius."""


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
    wall = (_NO_GLASS, 0.0, 0.0, 0.0, 0.0)
    if isinstance(glass, Sphere):
        wall = (_SPHERE, *glass.centre, glass.radius)
    elif isinstance(glass, Cylinder):
        wall = (_CYLINDER, glass.x_from, glass.x_to, glass.radius, 0.0)
    return Obstacles(flat, wall), (*_END_NAMES, *electrodes)


@compiled(inlined=True)
def _power_sum(c: Coefficients, s: float) -> float:
    return c[0] + s * (c[1] + s * (c[2] + s * (c[3] + s * (c[4] + s * c[5]))))


@compiled(inlined=True)
def _row(path: Array, m: int) -> Coefficients:
    return path[m, 0], path[m, 1], path[m, 2], path[m, 3], path[m, 4], path[m, 5]


@compiled(inlined=True)
def place_on(path: Array, s: float) -> Vector:
    """Give the position at the fraction s of a step; ``path`` (3, 6) holds rising powers of s."""
    return _power_sum(_row(path, 0), s), _power_sum(_row(path, 1), s), _power_sum(_row(path, 2), s)


@compiled(inlined=True)
def _height_over(flat: Array, n: int, path: Array) -> Coefficients:
    """Give the signed distance from an obstacle's plane along a step, as rising powers."""
    nx, ny, nz = flat[n, 4], flat[n, 5], flat[n, 6]
    x, y, z = path[0, 0] - flat[n, 1], path[1, 0] - flat[n, 2], path[2, 0] - flat[n, 3]
    return (
        x * nx + y * ny + z * nz,
        path[0, 1] * nx + path[1, 1] * ny + path[2, 1] * nz,
        path[0, 2] * nx + path[1, 2] * ny + path[2, 2] * nz,
        path[0, 3] * nx + path[1, 3] * ny + path[2, 3] * nz,
        path[0, 4] * nx + path[1, 4] * ny + path[2, 4] * nz,
        path[0, 5] * nx + path[1, 5] * ny + path[2, 5] * nz,
    )


@compiled()
def _is_on(flat: Array, n: int, x: float, y: float, z: float) -> bool:
    """Tell whether a point of the plane lies on the obstacle itself."""
    x, y, z = x - flat[n, 1], y - flat[n, 2], z - flat[n, 3]
    if flat[n, 0] == _DISC:
        return bool(y * y + z * z <= flat[n, 10] ** 2)
    along = x * flat[n, 7] + y * flat[n, 8] + z * flat[n, 9]
    across_squared = x * x + y * y + z * z - along * along
    return bool(abs(along) <= flat[n, 10] and across_squared <= flat[n, 11] ** 2)


@compiled()
def _crossing(c: Coefficients, low: float, high: float) -> float:
    """Find where a polynomial changes sign between two fractions: false position, Illinois form.

    The fraction given lies on the far side of the crossing, or on the plane to `_ON_PLANE`.
    """
    at_low, at_high = _power_sum(c, low), _power_sum(c, high)
    kept = 0
    for _ in range(60):
        if at_high == 0.0 or high - low <= _FRACTION_ERROR:
            break
        middle = high - at_high * (high - low) / (at_high - at_low)
        if not low < middle < high:
            middle = 0.5 * (low + high)
        value = _power_sum(c, middle)
        if value * at_low > 0.0:
            low, at_low = middle, value
            if kept == 1:
                at_high *= 0.5
            kept = 1
        else:
            high, at_high = middle, value
            if kept == -1:
                at_low *= 0.5
            kept = -1
        if abs(value) <= _ON_PLANE:
            return middle
    return high


@compiled()
def _first_crossing(c: Coefficients, start: float, length: float) -> float:
    """Give the first fraction of a step after ``start`` at which a path crosses a plane; 2 if none.

    Looks at quarters of the step, so that a path that dips through a plate and comes back within
    one step is seen too.
    """
    before, after = _power_sum(c, start), _power_sum(c, 1.0)
    if before * after > 0.0 and min(abs(before), abs(after)) > 0.5 * length:
        return 2.0
    if abs(before) <= _ON_PLANE:
        before = 0.0  # it starts on the plane, which is no crossing
    low = start
    for quarter in range(1, 5):
        high = start + (1.0 - start) * 0.25 * quarter
        after = _power_sum(c, high)
        if before != 0.0 and abs(after) <= _ON_PLANE:
            return high
        if before * after < 0.0:
            return _crossing(c, low, high)
        before, low = after, high
    return 2.0


@compiled()
def _beyond_glass(glass: tuple[float, ...], x: float, y: float, z: float) -> float:
    """Give a number that is positive outside the glass and grows with the distance."""
    if glass[0] == _SPHERE:
        x, y, z = x - glass[1], y - glass[2], z - glass[3]
        return x * x + y * y + z * z - glass[4] * glass[4]
    if glass[0] == _CYLINDER:
        side = y * y + z * z - glass[3] * glass[3]
        return max(side, x - glass[2], glass[1] - x)
    return -1.0


@compiled()
def _beyond_map(low: Vector, high: Vector, x: float, y: float, z: float) -> float:
    """Give how far in m a point lies outside the region in which the fields are known."""
    return max(low[0] - x, x - high[0], low[1] - y, y - high[1], low[2] - z, z - high[2])


@compiled()
def first_hit(
    path: Array, walls: Obstacles, low: Vector, high: Vector, length: float
) -> tuple[float, int]:
    """Give the fraction of a step at which an electron ends, and the end code.

    Parameters
    ----------
    path
        Position as rising powers of the fraction of the step, (3, 6), in m.
    walls
        See `Obstacles`.
    low, high
        Corners (3,) of the region in which the fields are known, in m.
    length
        Length of the step in m.

    Returns
    -------
    tuple[float, int]
        The fraction and the code, or 2 and `FLYING` where nothing is met. Where the fields are
        known up to the face of an obstacle only, or up to the glass, the electron ends on that.
    """
    best, code = 2.0, FLYING
    for n in range(walls.flat.shape[0]):
        height = _height_over(walls.flat, n, path)
        s = _first_crossing(height, 0.0, length)
        while s < best and s <= 1.0:
            x, y, z = place_on(path, s)
            if _is_on(walls.flat, n, x, y, z):
                best, code = s, int(walls.flat[n, 12])
            elif s < 1.0:
                s = _first_crossing(height, s, length)
                continue
            break
    x, y, z = place_on(path, 1.0)
    for bound in (GLASS, LEFT_MAP):
        if bound == GLASS:
            outside = _beyond_glass(walls.glass, x, y, z)
        else:
            outside = _beyond_map(low, high, x, y, z)
        if outside <= 0.0:
            continue
        within, beyond = 0.0, 1.0
        while beyond - within > _FRACTION_ERROR:
            middle = 0.5 * (within + beyond)
            px, py, pz = place_on(path, middle)
            if bound == GLASS:
                outside = _beyond_glass(walls.glass, px, py, pz)
            else:
                outside = _beyond_map(low, high, px, py, pz)
            if outside > 0.0:
                beyond = middle
            else:
                within = middle
        if beyond < best:
            best, code = beyond, bound
    if code in (GLASS, LEFT_MAP):
        code = _met_at_boundary(walls, code, place_on(path, best))
    return best, code


@compiled()
def _met_at_boundary(walls: Obstacles, code: int, place: Vector) -> int:
    """Give the end code where an electron comes to the boundary of the glass or of the fields.

    The face of the anode can lie in that boundary; which of the two a step meets first is then a
    matter of rounding, and where the electron is decides.
    """
    x, y, z = place
    for n in range(walls.flat.shape[0]):
        flat = walls.flat[n]
        height = (x - flat[1]) * flat[4] + (y - flat[2]) * flat[5] + (z - flat[3]) * flat[6]
        if abs(height) <= _SAME_PLACE and _is_on(walls.flat, n, x, y, z):
            return int(flat[12])
    return code
