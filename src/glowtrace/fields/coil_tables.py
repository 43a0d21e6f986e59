"""The flux density of coils at many points, by a table for each coil in its own coordinates.

The field of a coil depends on the distance along its axis and from it, so a table of two numbers
over two coordinates serves a whole map. Points near the copper, where the field changes fast, are
computed one by one.

Index letters: g points; i, j nodes along the distance from the axis and along it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numba
import numpy as np
from numpy.typing import NDArray

from glowtrace.compiled import compiled
from glowtrace.fields.coils import Winding, winding_field
from glowtrace.fields.interpolation import cubic_weights

Array = NDArray[np.float64]

_WORTH_A_TABLE = 3.0
"""How many times as many points as nodes there must be."""
_ROOM = 12.0
"""Cells of the table between the copper and the nearest point that is read from the table: there
it is good to 1e-5 of the field."""
_OUTSIDE = 2
"""Nodes of the table beyond the outermost point on every side."""


def flux_of_windings(windings: Sequence[Winding], points: Array, cell: float) -> Array:
    """Give the flux density (g, 3) in T of windings in series for 1 A, at points (g, 3) in m.

    Parameters
    ----------
    windings, points
        As for `winding_field`, which is what this agrees with.
    cell
        Edge length in m of the cells of the tables; a part of the distance over which the field is
        wanted.

    Raises
    ------
    FieldMapError
        A point inside a winding.
    """
    total = np.zeros(points.shape)
    for winding in windings:
        total += _flux_of_one(winding, points, cell)
    return total


def _flux_of_one(winding: Winding, points: Array, cell: float) -> Array:
    axis = np.array(winding.axis)
    offsets = points - np.array(winding.centre)
    along = offsets @ axis
    outwards = offsets - along[:, None] * axis
    rho = np.sqrt(np.einsum("gi,gi->g", outwards, outwards))
    beside = np.abs(rho - winding.mean_radius) - 0.5 * winding.radial_depth
    beyond = np.abs(along) - 0.5 * winding.axial_length
    far = np.hypot(np.maximum(beside, 0.0), np.maximum(beyond, 0.0)) > _ROOM * cell
    first = float(along.min()) - _OUTSIDE * cell
    shape = (
        int(np.ceil(rho.max() / cell)) + 2 * _OUTSIDE + 1,
        int(np.ceil((along.max() - first) / cell)) + _OUTSIDE + 1,
    )
    if far.sum() < _WORTH_A_TABLE * shape[0] * shape[1]:
        return winding_field([winding], points)
    flux = np.empty(points.shape)
    flux[~far] = winding_field([winding], points[~far])
    parts = np.empty((2, int(far.sum())))
    _read_table(_table(winding, first, shape, cell), cell, first, rho[far], along[far], parts)
    # The part away from the axis is tabulated divided by that distance, so that it has a direction
    # on the axis too.
    flux[far] = parts[0, :, None] * outwards[far] + parts[1, :, None] * axis
    return flux


def _table(winding: Winding, first: float, shape: tuple[int, int], cell: float) -> Array:
    """Give spline coefficients (2, i, j) of B_rho / rho and B_z; those near the copper are 0."""
    rho = cell * np.abs(np.arange(-_OUTSIDE, shape[0] - _OUTSIDE))
    rho[_OUTSIDE] = 1e-3 * cell  # even functions: any small distance stands for the axis
    places = np.stack(np.meshgrid(rho, first + cell * np.arange(shape[1]), indexing="ij"), axis=-1)
    clear = (np.abs(places[..., 0] - winding.mean_radius) > 0.5 * winding.radial_depth + cell) | (
        np.abs(places[..., 1]) > 0.5 * winding.axial_length + cell
    )
    upright = Winding(
        (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), winding.mean_radius, winding.axial_length,
        winding.radial_depth, winding.turns,
    )  # fmt: skip
    points = np.zeros((int(clear.sum()), 3))
    points[:, 0], points[:, 2] = places[clear].T
    values = np.zeros((2, *shape))
    flux = winding_field([upright], points)
    values[0][clear], values[1][clear] = flux[:, 0] / points[:, 0], flux[:, 2]
    for axis in (1, 2):
        rolled = np.moveaxis(values, axis, 0)
        values = np.moveaxis((8.0 * rolled[1:-1] - rolled[:-2] - rolled[2:]) / 6.0, 0, axis)
    return np.ascontiguousarray(values)


@compiled(parallel=True)
def _read_table(
    table: Array, cell: float, first: float, rho: Array, along: Array, parts: Array
) -> None:
    """Fill ``parts`` (2, g) with the two tabulated numbers at each distance from and along."""
    for g in numba.prange(len(rho)):
        x, z = rho[g] / cell + _OUTSIDE, (along[g] - first) / cell
        i, j = int(x), int(z)
        wx, _ = cubic_weights(x - i)
        wz, _ = cubic_weights(z - j)
        for part in range(2):
            total = 0.0
            for m in range(4):
                row = 0.0
                for n in range(4):
                    row += wz[n] * table[part, i - 2 + m, j - 2 + n]
                total += wx[m] * row
            parts[part, g] = total
