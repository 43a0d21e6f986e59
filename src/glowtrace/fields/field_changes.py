"""How the fields of a bench change with its numbers: tables for straight-line (linear) estimates.

One table for each number that moves an electrode, one for each that moves a coil: the change of the
potential for 1 V, or of the flux density for 1 A, for each unit of the number, by central
differences of two full solutions. They are smooth where the beam flies, so that cells of a few
millimetres do; within two cells of a plate they are wrong, because the plate itself moves.

Index letters: m numbers that move electrodes, c numbers that move coils, k electrodes, n nodes,
p points.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.compiled import compiled
from glowtrace.fields.coils import Winding
from glowtrace.fields.electrodes import Conductor, solve_unit_potentials
from glowtrace.fields.interpolation import (
    Field,
    Grid,
    field_at,
    spline_coefficients,
    superpose,
    tabulated_field,
)
from glowtrace.fields.maps import Glass, close_the_face, flux_table

Array = NDArray[np.float64]


Piece = Callable[[], Array]
Runner = Callable[[Piece], Array]


def at_once(piece: Piece) -> Array:
    """Run a piece of work here and now."""
    return piece()


@dataclass(frozen=True)
class Moved:
    """The same parts, one number moved down and up by ``step``."""

    electrodes: tuple[tuple[Conductor, ...], tuple[Conductor, ...]] | None
    windings: tuple[tuple[Winding, ...], tuple[Winding, ...]] | None
    step: float


@dataclass(frozen=True, eq=False)
class FieldChanges:
    """Changes of the fields for one unit of each number, and the fields themselves on those grids.

    The tables are spline coefficients, as `FieldMap` has them.
    """

    grids: tuple[Grid, ...]
    potentials: Array
    """(k, n) V for 1 V on each electrode."""
    flux: Array
    """(3 n,) T for 1 A."""
    of_potentials: Array
    """(m, k, n) the change of ``potentials`` for each unit of m numbers."""
    of_flux: Array
    """(c, 3 n) the change of ``flux`` for each unit of c numbers."""

    @property
    def size(self) -> int:
        """Bytes."""
        tables = (self.potentials, self.flux, self.of_potentials, self.of_flux)
        return sum(table.nbytes for table in tables)

    def at(self, points: Array, voltages: Sequence[float], current: float) -> tuple[Array, Array]:
        """Give the change of E (m, p, 3) in V/m and B (c, p, 3) in T for each unit of each number.

        Parameters
        ----------
        points
            (p, 3) in m; those outside the grids get the values at the nearest point inside.
        voltages, current
            Of the k electrodes in V, and in the coils in A.
        """
        m, k, n = self.of_potentials.shape
        blank = tabulated_field(self.grids, np.zeros(n), np.zeros(3 * n), 1.0, np.zeros(3))
        electric = np.zeros((m, k, len(points), 3))
        flux = np.zeros((len(self.of_flux), len(points), 3))
        _fill_changes(
            blank, self.of_potentials.reshape(m * k, n), self.of_flux,
            np.ascontiguousarray(points), electric.reshape(m * k, len(points), 3), flux,
        )  # fmt: skip
        return np.einsum(
            "k,mkpi->mpi", np.array(voltages[:k], dtype=float), electric
        ), current * flux

    def field(
        self,
        electric: Array,
        magnetic: Array,
        voltages: Sequence[float],
        current: float,
        uniform_flux: Array,
    ) -> Field:
        """Give the field with numbers moved by (m,) and (c,) units, as far as it is linear in them.

        Parameters
        ----------
        electric, magnetic
            By how much each number that moves electrodes or coils is moved.
        voltages, current, uniform_flux
            As for `FieldMap.field`.
        """
        m, k, n = self.of_potentials.shape
        volts = np.array(voltages[:k], dtype=float)
        potential = superpose(self.potentials, volts)
        if m and k:
            weights = np.outer(electric, volts).ravel()
            potential += superpose(self.of_potentials.reshape(m * k, n), weights)
        flux = self.flux + superpose(self.of_flux, magnetic) if len(self.of_flux) else self.flux
        return tabulated_field(self.grids, potential, flux, current, uniform_flux)


def build_field_changes(
    grids: Sequence[Grid],
    electrodes: Sequence[Conductor],
    windings: Sequence[Winding],
    moved: Sequence[Moved],
    glass: Glass,
    mirror_radius: float,
    run: Runner = at_once,
) -> FieldChanges:
    """Compute the tables.

    Parameters
    ----------
    grids
        From the outermost to the innermost.
    electrodes, windings
        As they are.
    moved
        As they are with each number moved; those that move electrodes give the m tables in their
        order, those that move coils the c tables.
    glass, mirror_radius
        As of a `FieldProblem`.
    run
        Runs each of the pieces of the work, which take a tenth of a second or two.
    """
    count = sum(math.prod(grid.shape) for grid in grids)
    names = len(electrodes) - 1

    def potentials(conductors: Sequence[Conductor]) -> Array:
        return run(lambda: _potentials(grids, conductors, mirror_radius))

    def flux(coils: Sequence[Winding]) -> Array:
        return run(lambda: flux_table(coils, glass, grids))

    of_potentials = [
        (potentials(up) - potentials(down)) / (2 * each.step)
        for each in moved
        if each.electrodes is not None
        for down, up in (each.electrodes,)
    ]
    of_flux = [
        (flux(up) - flux(down)) / (2 * each.step)
        for each in moved
        if each.windings is not None
        for down, up in (each.windings,)
    ]
    return FieldChanges(
        tuple(grids),
        potentials(electrodes),
        flux(windings),
        np.array(of_potentials).reshape(len(of_potentials), names, count),
        np.array(of_flux).reshape(len(of_flux), 3 * count),
    )


def _potentials(grids: Sequence[Grid], conductors: Sequence[Conductor], mirror: float) -> Array:
    names = [conductor.name for conductor in conductors[1:]]
    if not names:
        return np.zeros((0, sum(math.prod(grid.shape) for grid in grids)))
    solutions = solve_unit_potentials(conductors)
    tables = []
    for grid in grids:
        shape = tuple(len(axis) for axis in grid.axes())
        values = solutions.potential(grid.points(), names).reshape(len(names), *shape)
        if mirror:
            close_the_face(values, grid, mirror)
        tables.append(np.stack([spline_coefficients(each).ravel() for each in values]))
    return np.concatenate(tables, axis=1)


@compiled(inlined=True)
def _with_tables(field: Field, potential: Array, flux: Array) -> Field:
    return Field(
        field.kind,
        potential,
        field.strength,
        flux,
        field.current,
        field.uniform_flux,
        field.electric,
        field.edges,
        field.lowest,
        field.highest,
        field.boxes,
    )


@compiled()
def _fill_changes(
    blank: Field, potentials: Array, fluxes: Array, points: Array, electric: Array, flux: Array
) -> None:
    for m in range(len(potentials)):
        unit = _with_tables(blank, potentials[m], blank.flux)
        for p in range(len(points)):
            values = field_at(unit, points[p, 0], points[p, 1], points[p, 2], False)
            electric[m, p, 0], electric[m, p, 1], electric[m, p, 2] = (
                values[0],
                values[1],
                values[2],
            )
    for c in range(len(fluxes)):
        unit = _with_tables(blank, blank.potential, fluxes[c])
        for p in range(len(points)):
            values = field_at(unit, points[p, 0], points[p, 1], points[p, 2], False)
            flux[c, p, 0], flux[c, p, 1], flux[c, p, 2] = values[3], values[4], values[5]
