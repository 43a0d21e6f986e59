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

import numba
import numpy as np
from numpy.typing import NDArray

from glowtrace.compiled import compiled
from glowtrace.fields.panel_table import PanelTable

Array = NDArray[np.float64]

NEAR, FAR = 3.0, 12.0
"""Where the sum over Gauss points and where the point charge takes over, in panel reaches: together
they stay within 1e-6 of the exact potential of an electrode (rms 1e-7)."""
BLOCK = 64
"""Points that go through the far formula together, so that the compiler uses vector registers."""


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
