"""Potential and field of flat panels with uniform surface charge, compiled.

Near a panel the integral over it is exact: one logarithm for each edge and the solid angle that the
panel fills (Wilton et al. 1984). Further out nine Gauss points do, and far away a point charge with
a quadrupole, whose error falls as the fourth power of size over distance.

Everything here is a *geometry factor*: the integral of 1/R over a panel (in m), or minus its
gradient (dimensionless). Times charge density / (4 pi epsilon_0) it is a potential or a field.

Index letters: n panels, g points, k charge distributions.

References
----------
D. R. Wilton, S. M. Rao, A. W. Glisson, D. H. Schaubert, O. M. Al-Bundak, C. M. Butler, "Potential
integrals for uniform and linear source distributions on polygonal and polyhedral domains", IEEE
Trans. Antennas Propag. 32 (1984) 276-281.
A. van Oosterom and J. Strackee, "The solid angle of a plane triangle", IEEE Trans. Biomed. Eng. 30
(1983) 125-126.
"""

from __future__ import annotations

from math import atan2, copysign, log, sqrt
from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from glowtrace.errors import FieldMapError
from glowtrace.fields.compiled import compiled

Array = NDArray[np.float64]

NEAR, FAR = 3.0, 12.0
"""Where the sum over Gauss points and where the point charge takes over, in panel reaches: together
they stay within 1e-6 of the exact potential of an electrode (rms 1e-7)."""
BLOCK = 64
"""Points that go through the far formula together, so that the compiler uses vector registers."""
FLATNESS = 1e-6
"""How far a corner may stand out of the panel's plane, as a part of the panel's size."""
_TINY = 1e-300
_GAUSS_NODES = np.array([-np.sqrt(0.6), 0.0, np.sqrt(0.6)])
_GAUSS_WEIGHTS = np.array([5.0, 8.0, 5.0]) / 9.0


class PanelTable(NamedTuple):
    """What the kernels need to know of n panels (SI; an edge of length 0 belongs to a triangle)."""

    corners: Array
    """(n, 4, 3) in m."""
    normals: Array
    """(n, 3) unit vectors."""
    edge_normals: Array
    """(n, 4, 3) unit vectors in the panel's plane, outwards from edge i (corner i - 1 to i)."""
    edge_lengths: Array
    """(n, 4) in m."""
    areas: Array
    """(n,) in m^2."""
    centroids: Array
    """(n, 3) in m."""
    quadrupoles: Array
    """(n, 6) traceless second moments xx, yy, zz, xy, xz, yz about the centroid in m^4."""
    reaches: Array
    """(n,) distance in m from the centroid to the farthest corner."""
    nodes: Array
    """(n, 9, 3) Gauss points in m."""
    weights: Array
    """(n, 9) their share of the area in m^2."""


def panel_table(panels: Array) -> PanelTable:
    """Work out normals, edges and moments of flat panels.

    Parameters
    ----------
    panels
        Four corners and a middle each, (n, 5, 3) in m; a triangle repeats its last corner.

    Raises
    ------
    FieldMapError
        Panels of another shape, with no area, or not flat.
    """
    if panels.ndim != 3 or panels.shape[1:] != (5, 3) or len(panels) == 0:
        raise FieldMapError(
            f"Panels have the shape {panels.shape}; give four corners and a middle for each: "
            "an array of shape (n, 5, 3), n > 0."
        )
    corners = np.ascontiguousarray(panels[:, :4], dtype=np.float64)
    nodes, weights = _gauss_points(corners)
    areas = weights.sum(axis=1)
    centroids = np.einsum("nq,nqi->ni", weights, nodes) / np.maximum(areas, _TINY)[:, None]
    reaches = np.linalg.norm(corners - centroids[:, None], axis=2).max(axis=1)
    if not (areas > 1e-14 * reaches**2).all():
        worst = int(np.argmin(areas - 1e-14 * reaches**2))
        raise FieldMapError(f"Panel {worst} has no area: its corners are {corners[worst]} m.")
    crossed = np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1])
    normals = crossed / np.linalg.norm(crossed, axis=1, keepdims=True)
    heights = np.einsum("nci,ni->nc", corners - centroids[:, None], normals)
    if (np.abs(heights).max(axis=1) > FLATNESS * reaches).any():
        worst = int(np.argmax(np.abs(heights).max(axis=1) / reaches))
        raise FieldMapError(f"Panel {worst} is not flat: its corners are {corners[worst]} m.")
    edges = corners - np.roll(corners, 1, axis=1)
    lengths = np.linalg.norm(edges, axis=2)
    outwards = np.cross(edges, normals[:, None]) / np.maximum(lengths, _TINY)[..., None]
    offsets = nodes - centroids[:, None]
    second = np.einsum("nq,nqi,nqj->nij", weights, offsets, offsets)
    second -= np.trace(second, axis1=1, axis2=2)[:, None, None] / 3.0 * np.eye(3)
    return PanelTable(
        corners=corners,
        normals=normals,
        edge_normals=outwards,
        edge_lengths=lengths,
        areas=areas,
        centroids=centroids,
        quadrupoles=np.ascontiguousarray(second[:, (0, 1, 2, 0, 0, 1), (0, 1, 2, 1, 2, 2)]),
        reaches=reaches,
        nodes=nodes,
        weights=weights,
    )


def _gauss_points(corners: Array) -> tuple[Array, Array]:
    """Points (n, 9, 3) and weights (n, 9) that integrate over panels (n, 4, 3)."""
    u, v = (grid.ravel() for grid in np.meshgrid(_GAUSS_NODES, _GAUSS_NODES))
    shape = np.stack([(1 - u) * (1 - v), (1 + u) * (1 - v), (1 + u) * (1 + v), (1 - u) * (1 + v)])
    along_u = np.stack([v - 1, 1 - v, 1 + v, -1 - v])
    along_v = np.stack([u - 1, -1 - u, 1 + u, 1 - u])
    nodes, tangent_u, tangent_v = (
        np.einsum("cq,nci->nqi", factors / 4, corners) for factors in (shape, along_u, along_v)
    )
    weights = np.outer(_GAUSS_WEIGHTS, _GAUSS_WEIGHTS).ravel()
    return nodes, weights * np.linalg.norm(np.cross(tangent_u, tangent_v), axis=2)


@compiled(inlined=True)
def _exact(
    table: PanelTable, n: int, x: float, y: float, z: float
) -> tuple[float, float, float, float]:
    """Give the integral of 1/R over panel n, and minus its gradient along x, y, z.

    On the panel itself the normal field, which jumps there, is taken as the mean of both sides (0);
    on an edge, where the field is infinite, the result is large and finite.
    """
    corners, outwards, normals = table.corners, table.edge_normals, table.normals
    potential, along_x, along_y, along_z = 0.0, 0.0, 0.0, 0.0
    ax, ay, az = corners[n, 3, 0] - x, corners[n, 3, 1] - y, corners[n, 3, 2] - z
    b = sqrt(ax * ax + ay * ay + az * az)
    for i in range(4):
        a = b
        ax, ay, az = corners[n, i, 0] - x, corners[n, i, 1] - y, corners[n, i, 2] - z
        b = sqrt(ax * ax + ay * ay + az * az)
        length = table.edge_lengths[n, i]
        if length > 0.0:
            both = a + b
            logarithm = log((both + length) / max(both - length, 1e-16 * length))
            ux, uy, uz = outwards[n, i, 0], outwards[n, i, 1], outwards[n, i, 2]
            potential += (ax * ux + ay * uy + az * uz) * logarithm
            along_x += ux * logarithm
            along_y += uy * logarithm
            along_z += uz * logarithm
    nx, ny, nz = normals[n, 0], normals[n, 1], normals[n, 2]
    height = (corners[n, 0, 0] - x) * nx + (corners[n, 0, 1] - y) * ny + (corners[n, 0, 2] - z) * nz
    if abs(height) > 1e-13 * table.reaches[n]:
        angle = copysign(_solid_angle(corners[n], x, y, z), height)
        potential -= height * angle
        along_x -= nx * angle
        along_y -= ny * angle
        along_z -= nz * angle
    return potential, along_x, along_y, along_z


@compiled(inlined=True)
def _solid_angle(corners: Array, x: float, y: float, z: float) -> float:
    """Solid angle, 0 to 2 pi, of a flat panel (4, 3): two triangles, added as complex phases."""
    ax, ay, az = corners[0, 0] - x, corners[0, 1] - y, corners[0, 2] - z
    cx, cy, cz = corners[2, 0] - x, corners[2, 1] - y, corners[2, 2] - z
    a, c = sqrt(ax * ax + ay * ay + az * az), sqrt(cx * cx + cy * cy + cz * cz)
    ac = ax * cx + ay * cy + az * cz
    nx, ny, nz = cy * az - cz * ay, cz * ax - cx * az, cx * ay - cy * ax
    real, imaginary = 1.0, 0.0
    for i in (1, 3):
        bx, by, bz = corners[i, 0] - x, corners[i, 1] - y, corners[i, 2] - z
        b = sqrt(bx * bx + by * by + bz * bz)
        sine = (bx * nx + by * ny + bz * nz) * (2 - i)
        cosine = a * b * c + (ax * bx + ay * by + az * bz) * c + ac * b
        cosine += (bx * cx + by * cy + bz * cz) * a
        real, imaginary = real * cosine - imaginary * sine, real * sine + imaginary * cosine
    # half the angle lies between 0 and pi whichever way the panel faces
    return 2.0 * atan2(abs(imaginary), real)


@compiled(inlined=True)
def _add_scaled(scale: float, factor: Array, total: Array) -> None:
    for b in range(len(factor)):
        total[b] += scale * factor[b]


@compiled(inlined=True)
def _count_below(limit: float, numbers: Array) -> int:
    count = 0
    for b in range(len(numbers)):
        count += numbers[b] < limit
    return count


@compiled(parallel=True)
def fill_influence(table: PanelTable, points: Array, matrix: Array) -> None:
    """Fill ``matrix`` (g, n) with the integral of 1/R over panel n, seen from point g."""
    for g in numba.prange(len(points)):
        for n in range(len(table.areas)):
            matrix[g, n] = _exact(table, n, points[g, 0], points[g, 1], points[g, 2])[0]


@compiled(parallel=True)
def add_potentials(table: PanelTable, charges: Array, points: Array, potentials: Array) -> None:
    """Add to ``potentials`` (k, g) those of densities ``charges`` (k, n) at ``points`` (3, g)."""
    count = points.shape[1]
    for block in numba.prange((count + BLOCK - 1) // BLOCK):
        first, last = block * BLOCK, min((block + 1) * BLOCK, count)
        x, y, z = points[0, first:last], points[1, first:last], points[2, first:last]
        square, far = np.empty(last - first), np.empty(last - first)
        middle = np.empty(last - first)
        for n in range(len(table.areas)):
            _far_potential(table, n, x, y, z, square, far)
            near, nearest = (FAR * table.reaches[n]) ** 2, (NEAR * table.reaches[n]) ** 2
            if _count_below(near, square) > 0:
                _middle_potential(table, n, x, y, z, middle)
                for b in range(last - first):
                    if square[b] < nearest:
                        far[b] = _exact(table, n, x[b], y[b], z[b])[0]
                    elif square[b] < near:
                        far[b] = middle[b]
            for k in range(len(charges)):
                _add_scaled(charges[k, n], far, potentials[k, first:last])


@compiled(inlined=True)
def _far_potential(
    table: PanelTable, n: int, x: Array, y: Array, z: Array, square: Array, factor: Array
) -> None:
    """Fill ``square`` with the squared distances and ``factor`` with the far formula."""
    area, q = table.areas[n], table.quadrupoles[n]
    cx, cy, cz = table.centroids[n, 0], table.centroids[n, 1], table.centroids[n, 2]
    xx, yy, zz = 1.5 * q[0], 1.5 * q[1], 1.5 * q[2]
    xy, xz, yz = 3.0 * q[3], 3.0 * q[4], 3.0 * q[5]
    for b in range(len(x)):
        dx, dy, dz = x[b] - cx, y[b] - cy, z[b] - cz
        s = dx * dx + dy * dy + dz * dz
        square[b] = s
        inverse = np.reciprocal(s)  # a plain division checks for 0, which keeps it out of vectors
        moment = dx * (xx * dx + xy * dy + xz * dz) + dy * (yy * dy + yz * dz) + zz * dz * dz
        factor[b] = sqrt(inverse) * (area + moment * inverse * inverse)


@compiled(inlined=True)
def _middle_potential(
    table: PanelTable, n: int, x: Array, y: Array, z: Array, factor: Array
) -> None:
    """Fill ``factor`` with the sum over the panel's Gauss points."""
    factor[:] = 0.0
    for q in range(table.weights.shape[1]):
        weight = table.weights[n, q]
        cx, cy, cz = table.nodes[n, q, 0], table.nodes[n, q, 1], table.nodes[n, q, 2]
        for b in range(len(x)):
            dx, dy, dz = x[b] - cx, y[b] - cy, z[b] - cz
            factor[b] += weight * sqrt(np.reciprocal(dx * dx + dy * dy + dz * dz))


@compiled(parallel=True)
def add_fields(table: PanelTable, charges: Array, points: Array, fields: Array) -> None:
    """Add to ``fields`` (k, 3, g) minus the gradient of what ``add_potentials`` adds."""
    count = points.shape[1]
    for block in numba.prange((count + BLOCK - 1) // BLOCK):
        first, last = block * BLOCK, min((block + 1) * BLOCK, count)
        x, y, z = points[0, first:last], points[1, first:last], points[2, first:last]
        square = np.empty(last - first)
        far, middle = np.empty((3, last - first)), np.empty((3, last - first))
        for n in range(len(table.areas)):
            _far_field(table, n, x, y, z, square, far)
            near, nearest = (FAR * table.reaches[n]) ** 2, (NEAR * table.reaches[n]) ** 2
            if _count_below(near, square) > 0:
                _middle_field(table, n, x, y, z, middle)
                for b in range(last - first):
                    if square[b] < nearest:
                        _, far[0, b], far[1, b], far[2, b] = _exact(table, n, x[b], y[b], z[b])
                    elif square[b] < near:
                        for i in range(3):
                            far[i, b] = middle[i, b]
            for k in range(len(charges)):
                for i in range(3):
                    _add_scaled(charges[k, n], far[i], fields[k, i, first:last])


@compiled(inlined=True)
def _far_field(
    table: PanelTable, n: int, x: Array, y: Array, z: Array, square: Array, factor: Array
) -> None:
    """Do as ``_far_potential`` for minus the gradient: ``factor`` is (3, points)."""
    area, q = table.areas[n], table.quadrupoles[n]
    cx, cy, cz = table.centroids[n, 0], table.centroids[n, 1], table.centroids[n, 2]
    xx, yy, zz, xy, xz, yz = 3.0 * q[0], 3.0 * q[1], 3.0 * q[2], 3.0 * q[3], 3.0 * q[4], 3.0 * q[5]
    along_x, along_y, along_z = factor[0], factor[1], factor[2]
    for b in range(len(x)):
        dx, dy, dz = x[b] - cx, y[b] - cy, z[b] - cz
        s = dx * dx + dy * dy + dz * dz
        square[b] = s
        inverse = np.reciprocal(s)
        px = xx * dx + xy * dy + xz * dz
        py = xy * dx + yy * dy + yz * dz
        pz = xz * dx + yz * dy + zz * dz
        cubed = inverse * sqrt(inverse)
        radial = area + 2.5 * (dx * px + dy * py + dz * pz) * inverse * inverse
        along_x[b] = cubed * (dx * radial - px * inverse)
        along_y[b] = cubed * (dy * radial - py * inverse)
        along_z[b] = cubed * (dz * radial - pz * inverse)


@compiled(inlined=True)
def _middle_field(table: PanelTable, n: int, x: Array, y: Array, z: Array, factor: Array) -> None:
    """Do as ``_middle_potential`` for minus the gradient: ``factor`` is (3, points)."""
    factor[:] = 0.0
    along_x, along_y, along_z = factor[0], factor[1], factor[2]
    for q in range(table.weights.shape[1]):
        weight = table.weights[n, q]
        cx, cy, cz = table.nodes[n, q, 0], table.nodes[n, q, 1], table.nodes[n, q, 2]
        for b in range(len(x)):
            dx, dy, dz = x[b] - cx, y[b] - cy, z[b] - cz
            inverse = np.reciprocal(dx * dx + dy * dy + dz * dz)
            strength = weight * inverse * sqrt(inverse)
            along_x[b] += strength * dx
            along_y[b] += strength * dy
            along_z[b] += strength * dz
