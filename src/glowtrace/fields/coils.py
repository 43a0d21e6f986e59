"""Coils wound with a real section: any radius, length, depth, place, direction and sense.

The turns of a winding fill its rectangular section evenly. Along the axis the current sheet is
exact; across the depth a Gauss-Legendre rule adds sheets, as many as the nearest point asks for.

Index letters: g points, s sheets; 3 is x, y, z last.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, log, sin

import numba
import numpy as np
from numpy.typing import ArrayLike, NDArray

from glowtrace.compiled import compiled
from glowtrace.errors import FieldMapError
from glowtrace.fields.current_loops import loop_flux_density, sheet_flux_density

Array = NDArray[np.float64]

_SHEET_PRECISION = 1e-9
"""Wanted relative error of the rule across the depth; it fixes the number of sheets."""
_SHORTEST_SHEET = 1e-6
"""Half length, as a part of the radius, below which a sheet is a loop to better than 1e-10."""
_SHEET_COUNTS = (1, 2, 3, 4, 6, 8, 12, 16, 32, 64)


@dataclass(frozen=True)
class Winding:
    """One coil: turns spread evenly over a rectangular section around an axis.

    Parameters
    ----------
    centre
        Middle of the coil (3,) in m.
    axis
        Direction (3,) of its axis, of length 1. Positive current in positive turns gives a field
        along it in the middle of the coil.
    mean_radius
        Distance in m from the axis to the middle of the section.
    axial_length, radial_depth
        Size of the section in m along and across the axis; 0 is allowed (a sheet, a single loop).
    turns
        Number of turns; negative when wound the other way round.

    Raises
    ------
    FieldMapError
        An axis that is not of length 1, or a section that does not fit.
    """

    centre: tuple[float, float, float]
    axis: tuple[float, float, float]
    mean_radius: float
    axial_length: float
    radial_depth: float
    turns: float

    def __post_init__(self) -> None:
        if abs(np.linalg.norm(self.axis) - 1.0) > 1e-9:
            raise FieldMapError(f"Axis of a winding: {self.axis} must have length 1.")
        if not self.mean_radius > 0.0:
            raise FieldMapError(
                f"Mean radius of a winding: {self.mean_radius} m must be more than 0 m."
            )
        if not self.axial_length >= 0.0:
            raise FieldMapError(f"Length of a winding: {self.axial_length} m must not be negative.")
        if not 0.0 <= self.radial_depth < 2.0 * self.mean_radius:
            raise FieldMapError(
                f"Depth of a winding: {self.radial_depth} m must lie between 0 and twice its mean "
                f"radius, {2.0 * self.mean_radius} m."
            )


def pair_windings(
    mean_radius: float,
    turns: float,
    winding_width: float,
    winding_depth: float,
    spacing: float,
    centre: ArrayLike = (0.0, 0.0, 0.0),
    tilt_x: float = 0.0,
    tilt_y: float = 0.0,
    aiding: bool = True,
) -> tuple[Winding, Winding]:
    """Give two equal coils on one axis, which is +z tilted about x and then about y.

    Parameters
    ----------
    mean_radius, winding_width, winding_depth
        Of each coil, in m: mean radius, size of the section along and across the axis.
    turns
        Of each coil.
    spacing
        Distance in m between the coils' middles; the radius for a Helmholtz pair.
    centre
        Middle (3,) of the pair in m.
    tilt_x, tilt_y
        Angles in rad, right-handed.
    aiding
        Whether both coils are wound the same way; otherwise the first one, away from the axis's
        tip, is reversed.

    Returns
    -------
    tuple[Winding, Winding]
        The coil at the axis's tail and the one at its tip.
    """
    axis = (cos(tilt_x) * sin(tilt_y), -sin(tilt_x), cos(tilt_x) * cos(tilt_y))
    middle = np.asarray(centre, dtype=np.float64)
    tail, tip = (
        Winding(
            _point(middle + side * 0.5 * spacing * np.array(axis)),
            axis,
            mean_radius,
            winding_width,
            winding_depth,
            sense * turns,
        )
        for side, sense in ((-1.0, 1.0 if aiding else -1.0), (1.0, 1.0))
    )
    return tail, tip


def long_coil_winding(
    mean_radius: float,
    turns: float,
    x_from: float,
    x_to: float,
    winding_depth: float,
    shift_y: float = 0.0,
    shift_z: float = 0.0,
) -> Winding:
    """Give a coil around the x direction from ``x_from`` to ``x_to``, shifted sideways (in m)."""
    return Winding(
        (0.5 * (x_from + x_to), shift_y, shift_z),
        (1.0, 0.0, 0.0),
        mean_radius,
        x_to - x_from,
        winding_depth,
        turns,
    )


def loop_field(radius: float, rho: ArrayLike, z: ArrayLike) -> tuple[Array, Array]:
    """Flux density of one thin circular loop around the z axis, for 1 A.

    Exact, and right to rounding near the axis too. On the wire itself the field is infinite.

    Parameters
    ----------
    radius
        Of the loop, in m.
    rho, z
        Distance from the axis and height over the loop's plane in m, of shapes that broadcast.

    Returns
    -------
    tuple[Array, Array]
        (B_rho, B_z) in T for each ampere.

    Raises
    ------
    FieldMapError
        A point on the wire.
    """
    distances, heights = np.broadcast_arrays(
        np.asarray(rho, dtype=np.float64), np.asarray(z, dtype=np.float64)
    )
    winding = Winding((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), radius, 0.0, 0.0, 1.0)
    points = np.stack([distances, np.zeros(distances.shape), heights], axis=-1).reshape(-1, 3)
    along_x, _, along_z = winding_field([winding], points).T
    return along_x.reshape(distances.shape), along_z.reshape(distances.shape)


def winding_field(windings: Sequence[Winding], points: ArrayLike) -> Array:
    """Flux density of windings in series, for 1 A.

    Parameters
    ----------
    windings
        Any number; their fields are added.
    points
        (g, 3) in m, none of them inside a winding's section.

    Returns
    -------
    Array
        (g, 3) in T for each ampere.

    Raises
    ------
    FieldMapError
        A point inside a winding.
    """
    given = np.asarray(points, dtype=np.float64)
    if given.ndim != 2 or given.shape[1] != 3:
        raise FieldMapError(f"Points have the shape {given.shape}; give an array of shape (g, 3).")
    total = np.zeros(given.shape)
    for winding in windings:
        along, outwards, rho = _coordinates(winding, given)
        needed = _sheet_counts(winding, _clearances(winding, rho, along, given))
        for count in np.unique(needed):
            chosen = np.flatnonzero(needed == count)
            nodes, weights = np.polynomial.legendre.leggauss(count)
            radii = winding.mean_radius + 0.5 * winding.radial_depth * nodes
            parts = np.zeros((2, len(chosen)))
            _add_sheets(
                radii,
                0.5 * winding.turns * weights,
                0.5 * winding.axial_length,
                rho[chosen],
                along[chosen],
                parts,
            )
            total[chosen] += parts[0, :, None] * outwards[chosen]
            total[chosen] += parts[1, :, None] * np.array(winding.axis)
    return total


@compiled(parallel=True)
def _add_sheets(
    radii: Array, turns: Array, half_length: float, rho: Array, z: Array, parts: Array
) -> None:
    """Add to ``parts`` (2, g) the (B_rho, B_z) of 1 A in coaxial sheets (loops, if very short)."""
    for g in numba.prange(len(rho)):
        for s in range(len(radii)):
            # the two ends of a shorter sheet cancel to less precision than a loop has
            if half_length > _SHORTEST_SHEET * radii[s]:
                radial, axial = sheet_flux_density(radii[s], half_length, rho[g], z[g])
            else:
                radial, axial = loop_flux_density(radii[s], rho[g], z[g])
            parts[0, g] += turns[s] * radial
            parts[1, g] += turns[s] * axial


def _coordinates(winding: Winding, points: Array) -> tuple[Array, Array, Array]:
    """Of each point: distance along the axis, unit vector outwards (0 on the axis), and rho."""
    axis = np.array(winding.axis)
    offsets = points - np.array(winding.centre)
    along = offsets @ axis
    outwards = offsets - along[:, None] * axis
    rho = np.linalg.norm(outwards, axis=1)
    return along, outwards / np.where(rho > 0.0, rho, 1.0)[:, None], rho


def _clearances(winding: Winding, rho: Array, along: Array, points: Array) -> Array:
    """Distance (g,) of each point from the section's middle line; none may lie in the section."""
    beside = np.abs(rho - winding.mean_radius)
    beyond = np.maximum(np.abs(along) - 0.5 * winding.axial_length, 0.0)
    inside = (beside <= 0.5 * winding.radial_depth) & (beyond == 0.0)
    if inside.any():
        where = points[int(np.argmax(inside))]
        raise FieldMapError(
            f"The point {where} m lies inside the winding with centre {winding.centre} m and mean "
            f"radius {winding.mean_radius} m; keep the points out of its section of "
            f"{winding.axial_length} m by {winding.radial_depth} m."
        )
    return np.hypot(beside, beyond)


def _sheet_counts(winding: Winding, clearances: Array) -> NDArray[np.intp]:
    """Sheets (g,) that give the wanted precision at each distance from the section's middle line.

    The error of Gauss's rule with s nodes falls as r^(-2 s), r = D + sqrt(D^2 - 1), where D is the
    distance of the nearest singularity in half depths (L. N. Trefethen, Approximation Theory and
    Approximation Practice, SIAM 2013, theorem 19.3).
    """
    half = 0.5 * winding.radial_depth
    if half == 0.0:
        return np.ones(len(clearances), dtype=np.intp)
    relative = np.maximum(clearances / half, 1.0)
    rates = np.log(relative + np.sqrt(relative**2 - 1.0))
    wanted = -log(_SHEET_PRECISION) / np.maximum(2.0 * rates, 1e-3)
    index = np.searchsorted(_SHEET_COUNTS, np.minimum(wanted, _SHEET_COUNTS[-1]))
    return np.asarray(np.array(_SHEET_COUNTS)[index], dtype=np.intp)


def _point(vector: Array) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])
