"""The field at any point from values on grids: cubic B-splines, compiled.

The electric field is minus the gradient of ONE splined potential, so it is exactly free of curl and
an electron's energy is kept whatever the error of the map. The potential is twice continuously
differentiable, the electric field once; the magnetic flux density is splined by components.

The spline is a local quasi-interpolant: a coefficient depends on its node and the two neighbours
along each axis (it reproduces cubic polynomials). An interpolating spline would be a little closer
to a smooth function, but rings along whole grid lines where the potential has a kink, as it has at
every plate; here a plate disturbs the three nearest cells and nothing else.

Up to three boxes lie within each other, each with cells of its own: the innermost that holds a
point gives its field. A coarse box can then reach to the glass, while a fine one holds the plates.

Index letters: i, j, k count nodes along x, y, z. Coefficient (i, j, k) of a table belongs to node
(i - 1, j - 1, k - 1) of the grid: one layer of nodes lies outside the box on every side.

References
----------
C. de Boor and G. J. Fix, "Spline approximation by quasiinterpolants", J. Approx. Theory 8 (1973)
19-45; the three-point functional is the cubic case.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from glowtrace.compiled import compiled
from glowtrace.fields.stencil import contract_stencil

Array = NDArray[np.float64]
Vector = tuple[float, float, float]

MARGIN = 2
"""Layers of nodes outside the box whose values the spline needs."""

TABULATED, IDEAL = 0, 1
"""Field.kind: from tables, or uniform fields with sharp edges."""


@dataclass(frozen=True)
class Grid:
    """A box of equal cells: ``lowest`` and ``highest`` corner (3,) in m, ``cells`` (3,) counts."""

    lowest: tuple[float, float, float]
    highest: tuple[float, float, float]
    cells: tuple[int, int, int]

    @property
    def spacing(self) -> Array:
        """Edge lengths (3,) of a cell in m."""
        return np.asarray((np.array(self.highest) - np.array(self.lowest)) / np.array(self.cells))

    @property
    def shape(self) -> tuple[int, int, int]:
        """Counts (3,) of the spline's coefficients along x, y, z."""
        x, y, z = self.cells
        return x + 2 * MARGIN - 1, y + 2 * MARGIN - 1, z + 2 * MARGIN - 1

    def coefficient_places(self) -> Array:
        """Nodes (i, j, k, 3) in m that the spline's coefficients belong to."""
        x, y, z = (axis[1:-1] for axis in self.axes())
        return np.stack(np.meshgrid(x, y, z, indexing="ij"), axis=-1)

    def axes(self) -> tuple[Array, Array, Array]:
        """Coordinates in m of the nodes along x, y, z, the ``MARGIN`` outside included."""
        x, y, z = (
            low + (high - low) / count * np.arange(-MARGIN, count + MARGIN + 1, dtype=np.float64)
            for low, high, count in zip(self.lowest, self.highest, self.cells, strict=True)
        )
        return x, y, z

    def points(self) -> Array:
        """All nodes, margin included, as (g, 3) in m; the last axis runs fastest."""
        return np.stack(np.meshgrid(*self.axes(), indexing="ij"), axis=-1).reshape(-1, 3)


class Box(NamedTuple):
    """One of the boxes of a `Field`, in the form that the compiled kernels read."""

    lowest: Vector
    """Lowest corner (3,) in m."""
    highest: Vector
    """Highest corner (3,) in m."""
    per_spacing: Vector
    """Inverse edge lengths (3,) of a cell in 1/m."""
    shape: tuple[int, int, int]
    """Counts (3,) of coefficients."""
    start: int
    """Place of the first one in the table of the potential."""


class Field(NamedTuple):
    """The fields that one bundle flies through, in the form that the compiled kernels read.

    Make one with `tabulated_field` or `uniform_field`. Only the tables are arrays: counting the
    references to an array in compiled code costs more than reading three numbers from it.
    """

    kind: int
    """`TABULATED` or `IDEAL`."""
    potential: Array
    """Spline coefficients (i, j, k) of the potential in V relative to the anode, box after box,
    in one row."""
    strength: float
    """Multiplies the electric field: 1, but for the ripple of the plates' supply."""
    flux: Array
    """Spline coefficients (i, j, 3, k) of the flux density in T per ampere, box after box, in one
    row."""
    current: float
    """Coil current in A that multiplies ``flux``; of ideal fields, the factor 1 but for ripple."""
    uniform_flux: Vector
    """Flux density (3,) in T that is the same everywhere: Earth's, or that of the ideal coils."""
    electric: Vector
    """Ideal electric field (3,) in V/m, present where ``edges`` say."""
    edges: tuple[float, float]
    """The two x in m between which the ideal electric field is present."""
    lowest: Vector
    """Lowest corner (3,) in m of the region in which the fields are known."""
    highest: Vector
    """Highest corner (3,) in m of that region."""
    boxes: tuple[Box, Box, Box]
    """From the outermost, which is that region, to the innermost; one that is not there is empty
    and holds no point."""


def spline_coefficients(values: Array) -> Array:
    """Turn values on nodes into spline coefficients, along the first three axes.

    Parameters
    ----------
    values
        Values on all nodes of a grid with its margin, (i, j, k, ...).

    Returns
    -------
    Array
        Coefficients with one layer less on every side.
    """
    for axis in range(3):
        rolled = np.moveaxis(values, axis, 0)
        smoothed = (8.0 * rolled[1:-1] - rolled[:-2] - rolled[2:]) / 6.0
        values = np.moveaxis(smoothed, 0, axis)
    return np.ascontiguousarray(values)


@compiled()
def superpose(units: Array, factors: Array) -> Array:
    """Add up tables (k, n) times factors (k,), in one pass over the memory."""
    total = np.zeros(units.shape[1])
    for n in range(units.shape[0]):
        factor = factors[n]
        if factor != 0.0:
            for m in range(total.size):
                total[m] += factor * units[n, m]
    return total


def tabulated_field(
    grids: Sequence[Grid],
    potential: Array,
    flux: Array,
    current: float,
    uniform_flux: ArrayLike,
) -> Field:
    """Describe the real fields: tables of coefficients, see `Field` for shapes and units.

    The grids are told from the outermost to the innermost, three at most.
    """
    return Field(
        kind=TABULATED,
        potential=potential,
        strength=1.0,
        flux=flux,
        current=float(current),
        uniform_flux=_vector(uniform_flux),
        electric=(0.0, 0.0, 0.0),
        edges=(0.0, 0.0),
        lowest=_vector(grids[0].lowest),
        highest=_vector(grids[0].highest),
        boxes=_boxes(grids),
    )


def uniform_field(
    electric: ArrayLike, edges: tuple[float, float], uniform_flux: ArrayLike, grid: Grid
) -> Field:
    """Describe the ideal fields: E (3,) in V/m between two x in m, B (3,) in T everywhere."""
    return Field(
        kind=IDEAL,
        potential=np.zeros(1),
        strength=1.0,
        flux=np.zeros(3),
        current=1.0,
        uniform_flux=_vector(uniform_flux),
        electric=_vector(electric),
        edges=(float(edges[0]), float(edges[1])),
        lowest=_vector(grid.lowest),
        highest=_vector(grid.highest),
        boxes=(_NO_BOX, _NO_BOX, _NO_BOX),
    )


_NOWHERE = (math.inf, math.inf, math.inf)
_NO_BOX = Box(_NOWHERE, _NOWHERE, (1.0, 1.0, 1.0), (4, 4, 4), 0)


def _boxes(grids: Sequence[Grid]) -> tuple[Box, Box, Box]:
    boxes, start = [_NO_BOX] * 3, 0
    for n, grid in enumerate(grids):
        low, high = _vector(grid.lowest), _vector(grid.highest)
        boxes[n] = Box(low, high, _vector(1.0 / grid.spacing), grid.shape, start)
        start += math.prod(grid.shape)
    outer, middle, inner = boxes
    return outer, middle, inner


def _vector(values: ArrayLike) -> Vector:
    x, y, z = np.asarray(values, dtype=float).tolist()
    return x, y, z


@compiled(inlined=True)
def cubic_weights(f: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Give the four cubic B-spline weights at the fraction f of a cell, and their slopes."""
    g = 1.0 - f
    sixth = 1.0 / 6.0
    return (
        (
            g * g * g * sixth,
            (4.0 + f * f * (3.0 * f - 6.0)) * sixth,
            (4.0 + g * g * (3.0 * g - 6.0)) * sixth,
            f * f * f * sixth,
        ),
        (-0.5 * g * g, f * (1.5 * f - 2.0), g * (2.0 - 1.5 * g), 0.5 * f * f),
    )


@compiled(inlined=True)
def _holds(box: Box, x: float, y: float, z: float) -> bool:
    low, high = box.lowest, box.highest
    return bool(low[0] <= x <= high[0] and low[1] <= y <= high[1] and low[2] <= z <= high[2])


@compiled(inlined=True)
def field_at(
    field: Field, x: float, y: float, z: float, inside: bool
) -> tuple[float, float, float, float, float, float, float]:
    """Give (E_x, E_y, E_z) in V/m, (B_x, B_y, B_z) in T and the potential in V at a point.

    Outside the region in which the fields are known the values at its nearest point are given: the
    tracer ends an electron there, and only needs numbers that are finite until it has.

    Parameters
    ----------
    field
        See `Field`.
    x, y, z
        The point in m.
    inside
        Whether the ideal electric field is present here; the tables do not look at it.
    """
    bias, current, strength = field.uniform_flux, field.current, field.strength
    if field.kind == IDEAL:
        bx, by, bz = current * bias[0], current * bias[1], current * bias[2]
        if not inside:
            return 0.0, 0.0, 0.0, bx, by, bz, 0.0
        ex, ey, ez = (
            strength * field.electric[0],
            strength * field.electric[1],
            strength * field.electric[2],
        )
        return ex, ey, ez, bx, by, bz, -(ex * x + ey * y + ez * z)
    box = field.boxes[0]
    if _holds(field.boxes[2], x, y, z):
        box = field.boxes[2]
    elif _holds(field.boxes[1], x, y, z):
        box = field.boxes[1]
    low, high, per, shape = box.lowest, box.highest, box.per_spacing, box.shape
    fx = (min(max(x, low[0]), high[0]) - low[0]) * per[0]
    fy = (min(max(y, low[1]), high[1]) - low[1]) * per[1]
    fz = (min(max(z, low[2]), high[2]) - low[2]) * per[2]
    i = min(int(fx), shape[0] - 4)
    j = min(int(fy), shape[1] - 4)
    k = min(int(fz), shape[2] - 4)
    wx, dx = cubic_weights(fx - i)
    wy, dy = cubic_weights(fy - j)
    wz, dz = cubic_weights(fz - k)
    gx, gy, gz, bx, by, bz, potential = contract_stencil(  # type: ignore[call-arg, var-annotated]
        field.potential, field.flux, box.start, (i, j, k), shape, wx, dx, wy, dy, wz, dz
    )
    return (
        -gx * per[0] * strength,
        -gy * per[1] * strength,
        -gz * per[2] * strength,
        bx * current + bias[0],
        by * current + bias[1],
        bz * current + bias[2],
        potential * strength,
    )


@compiled(inlined=True)
def scaled_field(field: Field, strength: float, current: float) -> Field:
    """Give the field with its electric part and its coil current multiplied by two factors."""
    return Field(
        field.kind,
        field.potential,
        field.strength * strength,
        field.flux,
        field.current * current,
        field.uniform_flux,
        field.electric,
        field.edges,
        field.lowest,
        field.highest,
        field.boxes,
    )


@compiled()
def _fill_fields(field: Field, points: Array, inside: NDArray[np.bool_], values: Array) -> None:
    for n in range(points.shape[0]):
        x, y, z = points[n]
        values[n, :] = field_at(field, x, y, z, inside[n])


def fields_at(field: Field, points: Array) -> tuple[Array, Array, Array]:
    """Give E (n, 3) in V/m, B (n, 3) in T and the potential (n,) in V at points (n, 3) in m."""
    points = np.ascontiguousarray(points, dtype=float)
    values = np.empty((len(points), 7))
    inside = (field.edges[0] <= points[:, 0]) & (points[:, 0] < field.edges[1])
    _fill_fields(field, points, inside, values)
    return values[:, :3], values[:, 3:6], values[:, 6]
