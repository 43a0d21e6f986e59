"""Flux density of the coils off the apparatus, and how far away it falls below a level.

All windings of a bench share one axis, and so their field is the same all around it: it is taken
on spheres around the middle of the coils, in directions every 5 degrees from the axis's tip to its
tail. Near the coils it reaches furthest beside the wires, far away along the axis. Iron nearby is
left out, and Earth's field is not added.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot, pi

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.known_fields import Winding, winding_field
from glowtrace.bench.layout import bench_windings
from glowtrace.bench.model import Bench
from glowtrace.constants import VACUUM_PERMEABILITY

Array = NDArray[np.float64]

_CLEAR = 1.02
"""Smallest sphere looked at, as a multiple of the one around the windings."""
_SPHERES = 20
_DIRECTIONS = 37
_REFINEMENTS = 5
"""Times that the step between spheres is divided, which leaves it below a micrometre."""


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
    angle
        Between the coils' axis and the direction in which it reaches so far, rad.
    """

    level: float
    nearest: float
    reach: float
    angle: float

    @property
    def stays_inside(self) -> bool:
        """Whether the level is not reached anywhere outside the smallest sphere."""
        return self.reach <= self.nearest


@lru_cache(maxsize=64)  # every step of a sheet asks anew
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
    windings = tuple(bench_windings(bench))
    return _reaching(windings, abs(current), level) if windings else None


@lru_cache(maxsize=64)  # numbers that move no winding ask for the same again
def _reaching(windings: tuple[Winding, ...], current: float, level: float) -> StrayField:
    middle, nearest = _sphere_around(windings)
    angles, directions = _directions(windings)
    moment = sum(abs(w.turns) * (w.mean_radius + w.radial_depth / 2) ** 2 for w in windings)
    # Twice the distance at which the whole moment on the axis of a dipole makes the level.
    dipole = (VACUUM_PERMEABILITY * current * moment / (2 * level)) ** (1 / 3)
    radii = np.geomspace(nearest, 2.0 * (nearest + dipole), _SPHERES)
    for _ in range(_REFINEMENTS):
        above = current * _sizes(windings, middle, directions, radii) > level
        if not above.any():
            return StrayField(level, nearest, nearest, 0.0)
        last = int(np.flatnonzero(above.any(axis=0))[-1])
        farthest = above[:, last]
        angles, directions = angles[farthest], directions[farthest]
        # The outermost sphere is beyond the level, so there always is a next one.
        radii = np.linspace(radii[last], radii[last + 1], _SPHERES)
    return StrayField(level, nearest, float(radii[-1]), float(angles[0]))


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
    windings = tuple(bench_windings(bench))
    if not windings:
        return np.zeros(len(distances))
    return abs(current) * _largest(windings, tuple(distances))


@lru_cache(maxsize=64)
def _largest(windings: tuple[Winding, ...], distances: tuple[float, ...]) -> Array:
    """Give the largest size of the flux density (k,) in T for 1 A."""
    middle, _ = _sphere_around(windings)
    radii = np.asarray(distances, dtype=np.float64)
    return np.asarray(_sizes(windings, middle, _directions(windings)[1], radii).max(axis=0))


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


def _directions(windings: Sequence[Winding]) -> tuple[Array, Array]:
    """Angles (n,) to the windings' axis in rad, and unit vectors (n, 3) at these angles to it."""
    axis = np.array(windings[0].axis)
    aside = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    aside /= np.linalg.norm(aside)
    angles = np.linspace(0.0, pi, _DIRECTIONS)
    return angles, np.cos(angles)[:, None] * axis + np.sin(angles)[:, None] * aside
