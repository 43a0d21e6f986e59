"""Flux density of the coils off the apparatus, and how far away it falls below a level.

The field is taken on spheres around the middle of the coils, in 26 directions (to the faces, edges
and corners of a cube) and along the coils' axis, where that of a pair or a long coil is largest
far away. Iron nearby is left out, and Earth's field is not added.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import hypot

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from glowtrace.bench.layout import bench_windings
from glowtrace.bench.model import Bench
from glowtrace.constants import VACUUM_PERMEABILITY
from glowtrace.fields.coils import Winding, winding_field

Array = NDArray[np.float64]

_CLEAR = 1.02
"""Smallest sphere looked at, as a multiple of the one around the windings."""
_SPHERES = 120


@dataclass(frozen=True)
class StrayField:
    """Where the coils' field falls below a level.

    Attributes
    ----------
    level
        T.
    nearest
        Radius of the smallest sphere looked at, m: it just holds the coils.
    reach
        Distance from the middle of the coils in m beyond which the field is below the level in
        every direction looked at; `nearest` where it is so everywhere outside.
    direction
        Unit vector (3,) from the middle of the coils along which it reaches so far.
    """

    level: float
    nearest: float
    reach: float
    direction: tuple[float, float, float]

    @property
    def stays_inside(self) -> bool:
        """Whether the level is not reached anywhere outside the smallest sphere."""
        return self.reach <= self.nearest


def stray_field(bench: Bench, current: float, level: float) -> StrayField | None:
    """Find the distance at which the coils' field has fallen below a level; None without coils.

    Parameters
    ----------
    bench
        What stands on the table.
    current
        In the coils, A.
    level
        T, above 0.
    """
    windings = bench_windings(bench)
    if not windings:
        return None
    middle, nearest = _sphere_around(windings)
    directions = _directions(windings)
    moment = sum(abs(w.turns) * (w.mean_radius + w.radial_depth / 2) ** 2 for w in windings)
    # Twice the distance at which the whole moment on the axis of a dipole makes the level.
    dipole = (VACUUM_PERMEABILITY * abs(current) * moment / (2 * level)) ** (1 / 3)
    radii = np.geomspace(nearest, 2.0 * (nearest + dipole), _SPHERES)
    sizes = abs(current) * _sizes(windings, middle, directions, radii)
    above = sizes > level
    if not above.any():
        return StrayField(level, nearest, nearest, _triple(directions[0]))
    last = int(np.flatnonzero(above.any(axis=0))[-1])

    def beyond(radius: float, direction: Array) -> float:
        there = _sizes(windings, middle, direction[None], np.array([radius]))
        return abs(current) * float(there[0, 0]) - level

    reaches = {
        float(brentq(beyond, radii[last], radii[last + 1], args=(directions[d],), xtol=1e-5)): d
        for d in np.flatnonzero(above[:, last])
    }
    reach = max(reaches)
    return StrayField(level, nearest, reach, _triple(directions[reaches[reach]]))


def stray_flux_density(bench: Bench, current: float, distances: Sequence[float]) -> Array:
    """Largest flux density in T at distances in m from the middle of the coils, over directions.

    Parameters
    ----------
    bench, current
        What stands on the table, and the current in its coils in A.
    distances
        (k,) in m, beyond the windings.

    Returns
    -------
    Array
        (k,) in T; zeros without coils.

    Raises
    ------
    FieldMapError
        A distance so small that a point lies in a winding.
    """
    windings = bench_windings(bench)
    radii = np.asarray(distances, dtype=np.float64)
    if not windings:
        return np.zeros(len(radii))
    middle, _ = _sphere_around(windings)
    sizes = _sizes(windings, middle, _directions(windings), radii)
    return np.asarray(abs(current) * sizes.max(axis=0), dtype=np.float64)


def _sizes(windings: Sequence[Winding], middle: Array, directions: Array, radii: Array) -> Array:
    """Size of the flux density (directions, radii) in T for 1 A."""
    points = middle + directions[:, None, :] * radii[None, :, None]
    field = winding_field(windings, points.reshape(-1, 3))
    sizes = np.sqrt((field**2).sum(axis=1))
    return np.asarray(sizes, dtype=np.float64).reshape(len(directions), len(radii))


def _sphere_around(windings: Sequence[Winding]) -> tuple[Array, float]:
    """Middle (3,) of windings on one axis, and radius of a sphere that is clear of them, m."""
    middle = np.mean([winding.centre for winding in windings], axis=0)
    farthest = max(
        hypot(
            w.mean_radius + w.radial_depth / 2,
            w.axial_length / 2 + float(np.linalg.norm(np.array(w.centre) - middle)),
        )
        for w in windings
    )
    return middle, _CLEAR * farthest


def _directions(windings: Sequence[Winding]) -> Array:
    """Unit vectors (n, 3): to the faces, edges and corners of a cube, and along the axis."""
    cube = np.array([d for d in product((-1.0, 0.0, 1.0), repeat=3) if any(d)])
    axis = np.array(windings[0].axis)
    unit = cube / np.linalg.norm(cube, axis=1)[:, None]
    return np.concatenate([unit, axis[None], -axis[None]])


def _triple(vector: Array) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])
