"""What the sums over charged panels need to know of each panel: edges, moments, Gauss points.

Index letters: n panels, q Gauss points.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.errors import FieldMapError

Array = NDArray[np.float64]

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
