"""Conductors cut into small flat panels: rectangles, and discs with a slit or a round hole.

Surface charge crowds at every free edge, as one over the square root of the distance from it. So
the nodes of a mesh follow a cosine towards every edge: panels are small where the charge changes
fast.

A panel is a flat quadrilateral, four corners (4, 3) in m; a triangle repeats its last corner.
Index letters: n counts panels.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from glowtrace.errors import FieldMapError

Array = NDArray[np.float64]

Complex = NDArray[np.complex128]

HoleShape = Literal["slit", "round"]


def cosine_nodes(count: int) -> Array:
    """Give count + 1 numbers from 0 to 1 that crowd at both ends (extremes of a cosine)."""
    return 0.5 * (1.0 - np.cos(np.pi * np.arange(count + 1) / count))


def rectangle_panels(
    centre: ArrayLike, edge_u: ArrayLike, edge_v: ArrayLike, count_u: int, count_v: int
) -> Array:
    """Cut a flat rectangle (or parallelogram) into panels that are small near its edges.

    Parameters
    ----------
    centre
        Its middle (3,) in m.
    edge_u, edge_v
        Its two full edges as vectors (3,) in m.
    count_u, count_v
        Number of panels along each.

    Returns
    -------
    Array
        Panels (count_u * count_v, 4, 3) in m.

    Raises
    ------
    FieldMapError
        A count below 1, or edges that span no area.
    """
    middle, u, v = (np.asarray(vector, dtype=np.float64) for vector in (centre, edge_u, edge_v))
    _require_counts(count_u=count_u, count_v=count_v)
    if not np.linalg.norm(np.cross(u, v)) > 0.0:
        raise FieldMapError(
            f"A rectangle with edges {u} and {v} m has no area; "
            "give two edges that are not zero and not parallel."
        )
    along_u = cosine_nodes(count_u)[:, None, None] - 0.5
    along_v = cosine_nodes(count_v)[None, :, None] - 0.5
    return _cells(middle + along_u * u + along_v * v)


def disc_panels(
    centre: ArrayLike,
    radius: float,
    hole_height: float = 0.0,
    hole_width: float = 0.0,
    hole_shape: HoleShape = "slit",
    *,
    count_radial: int = 12,
    count_quarter: int = 10,
) -> Array:
    """Cut a disc that faces along x, with a hole in its middle, into panels.

    The mesh lines are confocal ellipses and hyperbolas about the ends of the slit (circles and rays
    about a round or square hole), which fit the hole and turn into the rim. The polygon that stands
    for a circle has the circle's area.

    Parameters
    ----------
    centre
        Middle (3,) of the disc in m; the disc lies in the plane x = centre[0].
    radius
        Radius of the disc in m.
    hole_height, hole_width
        Full size in m of the hole along y and along z; both zero: no hole.
    hole_shape
        "slit" for a rectangle, "round" for a circle (height and width are then both its diameter).
    count_radial
        Panels from the hole to the rim.
    count_quarter
        Panels along a quarter of the rim.

    Returns
    -------
    Array
        Panels (4 * count_quarter * count_radial, 4, 3) in m.

    Raises
    ------
    FieldMapError
        A hole that does not fit into the disc, or counts too small for a mesh.
    """
    _require_counts(count_radial=count_radial, count_quarter=count_quarter - 1)
    _require_fitting_hole(radius, hole_height, hole_width, hole_shape)
    if hole_height == 0.0:
        nodes = _full_disc_quarter(radius, count_radial, count_quarter)
    elif hole_height > hole_width:
        upright = _holed_disc_quarter(
            radius, hole_width, hole_height, hole_shape, count_radial, count_quarter
        )
        nodes = 1j * np.conj(upright)  # mirrors the picture at the diagonal: swaps y and z
    else:
        nodes = _holed_disc_quarter(
            radius, hole_height, hole_width, hole_shape, count_radial, count_quarter
        )
    quarters = np.stack([nodes, -np.conj(nodes), np.conj(nodes), -nodes])
    corners = np.stack([np.zeros(quarters.shape), quarters.imag, quarters.real], axis=-1)
    panels = np.concatenate([_cells(quarter) for quarter in corners])
    return panels + np.asarray(centre, dtype=np.float64)


def _holed_disc_quarter(
    radius: float,
    height: float,
    width: float,
    shape: HoleShape,
    count_radial: int,
    count_quarter: int,
) -> Complex:
    """Mesh nodes z + i y of the quarter y, z >= 0 of a disc whose hole is no higher than wide."""
    if shape == "round":
        focus = 0.0
        angles = np.linspace(0.0, np.pi / 2, count_quarter + 1)
        hole = 0.5 * width * _equal_area_factor(angles) * np.exp(1j * angles)
    else:
        focus = 0.5 * np.sqrt(width**2 - height**2)
        hole = _slit_quarter(0.5 * height, 0.5 * width, count_quarter)
    inner = _confocal(hole, focus)
    rim = radius * _equal_area_factor(inner.imag) * np.exp(1j * inner.imag)
    steps = cosine_nodes(count_radial)[:, None]
    nodes = _from_confocal(inner + steps * (_confocal(rim, focus) - inner), focus)
    nodes[0], nodes[-1] = hole, rim
    nodes[:, 0].imag = 0.0
    nodes[:, -1].real = 0.0
    return nodes


def _slit_quarter(half_height: float, half_width: float, count: int) -> Complex:
    """Nodes z + i y on the slit's edge in the quarter y, z >= 0, from the z axis to the y axis."""
    corner = _confocal(
        np.array([half_width + 1j * half_height]), np.sqrt(half_width**2 - half_height**2)
    ).imag[0]
    count_side = min(max(round(count * corner / (np.pi / 2)), 1), count - 1)
    count_top = count - count_side
    side = half_height * np.sin(np.pi / 2 * np.arange(count_side + 1) / count_side)
    top = half_width * np.cos(np.pi / 2 * np.arange(1, count_top + 1) / count_top)
    return np.concatenate([half_width + 1j * side, top + 1j * half_height])


def _full_disc_quarter(radius: float, count_radial: int, count_quarter: int) -> Complex:
    """Mesh nodes z + i y of a quarter of a whole disc; the innermost panels are triangles."""
    angles = np.linspace(0.0, np.pi / 2, count_quarter + 1)
    steps = np.sin(np.pi / 2 * np.arange(count_radial + 1) / count_radial)
    # from the rim inwards, so that the triangles repeat their last corner
    rim: Complex = radius * _equal_area_factor(angles) * np.exp(1j * angles)
    return steps[::-1, None] * rim


def _confocal(points: Complex, focus: float) -> Complex:
    """Elliptic coordinates (size, + i angle) about foci at +-focus; log-polar ones for focus 0."""
    coordinates: Complex = np.log(points) if focus == 0.0 else np.arccosh(points / focus)
    return coordinates


def _from_confocal(coordinates: Complex, focus: float) -> Complex:
    points: Complex = np.exp(coordinates) if focus == 0.0 else focus * np.cosh(coordinates)
    return points


def _equal_area_factor(angles: Array) -> float:
    """By how much a polygon with corners at these angles must grow to have its circle's area."""
    sectors = np.diff(angles)
    return float(np.sqrt(sectors.sum() / np.sin(sectors).sum()))


def _cells(nodes: Array) -> Array:
    """Panels (n, 4, 3) between the nodes (a, b, 3) of a mesh of rows and columns."""
    corners = [nodes[:-1, :-1], nodes[:-1, 1:], nodes[1:, 1:], nodes[1:, :-1]]
    return np.stack(corners, axis=2).reshape(-1, 4, 3)


def _require_counts(**counts: int) -> None:
    for name, count in counts.items():
        if count < 1:
            raise FieldMapError(f"{name} of a mesh: {count} panels are too few for a mesh.")


def _require_fitting_hole(radius: float, height: float, width: float, shape: HoleShape) -> None:
    if not radius > 0.0:
        raise FieldMapError(f"Radius of a disc: {radius} m is not allowed; give more than 0 m.")
    if (height == 0.0) != (width == 0.0) or min(height, width) < 0.0:
        raise FieldMapError(
            f"Hole of {height} m (height) by {width} m (width): give both more than 0 m, or both 0."
        )
    if shape == "round" and height != width:
        raise FieldMapError(
            f"A round hole has one diameter, but {height} m (height) and {width} m (width) differ."
        )
    reach = 0.5 * (width if shape == "round" else np.hypot(height, width))
    if reach >= radius:
        raise FieldMapError(
            f"Hole of {height} m (height) by {width} m (width) does not fit into a disc of radius "
            f"{radius} m: its farthest point must stay below {radius} m from the middle, "
            f"and is {reach:.4g} m."
        )
