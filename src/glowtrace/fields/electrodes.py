"""Electrodes of any number in free space: surface charge, potential and field for each at 1 V.

The charge density is uniform on each panel. Asking for the right potential at one point of every
panel gives one linear system; its one factorisation serves all electrodes. Potentials superpose, so
turning a knob costs nothing afterwards.

Assumptions: static fields, ideal conductors, no dielectrics (glass) and no space charge, nothing
else nearby; the potential falls to 0 at infinity. A conductor drawn as a sheet carries the sum of
the charges of its two faces.

Index letters: k electrodes, n panels, g points; 3 is x, y, z last.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import lapack
from scipy.spatial import cKDTree

from glowtrace.constants import VACUUM_PERMITTIVITY
from glowtrace.errors import FieldMapError
from glowtrace.fields.charged_panels import add_fields, add_potentials, fill_influence
from glowtrace.fields.panel_table import PanelTable, panel_table

Array = NDArray[np.float64]

_FOUR_PI_EPSILON = 4.0 * np.pi * VACUUM_PERMITTIVITY
_WORST_CONDITION = 1e-12
"""Reciprocal condition number below which the system counts as singular; a bench has 1e-5."""
_SAME_PLACE = 1e-9
"""Part of the whole size within which two middles are one."""


@dataclass(frozen=True)
class Conductor:
    """One electrode: a name and its panels (n, 5, 3) in m, see `panels`, all at one potential."""

    name: str
    panels: Array


@dataclass(frozen=True)
class UnitSolutions:
    """Surface charge of several electrodes, one solution for each: it at 1 V, the others at 0 V."""

    names: tuple[str, ...]
    """The k electrodes in the order of all arrays here."""
    panels: Array
    """All panels (n, 5, 3) in m, electrode after electrode."""
    owners: NDArray[np.intp]
    """(n,) which electrode a panel belongs to."""
    charges: Array
    """(k, n) surface charge density in C/m^2 for each volt."""
    capacitance: Array
    """(k, k) in F: charge of electrode i for 1 V on electrode j, the others at 0 V."""

    @cached_property
    def table(self) -> PanelTable:
        """Geometry of the panels, for the compiled sums."""
        return panel_table(self.panels)

    def potential(self, points: ArrayLike, electrodes: Sequence[str] | None = None) -> Array:
        """Potential at points, for 1 V on each electrode in turn.

        Parameters
        ----------
        points
            (g, 3) in m.
        electrodes
            Names of those wanted, in the order wanted; all when left out.

        Returns
        -------
        Array
            (k, g) in V for each volt.
        """
        columns = _columns(points)
        charges = self._charges_of(electrodes) / _FOUR_PI_EPSILON
        potentials = np.zeros((len(charges), columns.shape[1]))
        add_potentials(self.table, charges, columns, potentials)
        return potentials

    def electric_field(self, points: ArrayLike, electrodes: Sequence[str] | None = None) -> Array:
        """Electric field at points, for 1 V on each electrode in turn.

        On a sheet, where the normal field jumps, it is the mean of both sides; at an edge of a
        panel, where the field of uniform charge is infinite, it is large and finite.

        Parameters
        ----------
        points
            (g, 3) in m.
        electrodes
            Names of those wanted, in the order wanted; all when left out.

        Returns
        -------
        Array
            (k, g, 3) in V/m for each volt.
        """
        columns = _columns(points)
        charges = self._charges_of(electrodes) / _FOUR_PI_EPSILON
        fields = np.zeros((len(charges), 3, columns.shape[1]))
        add_fields(self.table, charges, columns, fields)
        return np.ascontiguousarray(fields.transpose(0, 2, 1))

    def _charges_of(self, electrodes: Sequence[str] | None) -> Array:
        if electrodes is None:
            return self.charges
        unknown = sorted(set(electrodes) - set(self.names))
        if unknown:
            raise FieldMapError(
                f"No electrode named {', '.join(map(repr, unknown))}; "
                f"there are {', '.join(map(repr, self.names))}."
            )
        return self.charges[[self.names.index(name) for name in electrodes]]


def solve_unit_potentials(
    conductors: Sequence[Conductor], *, is_even: bool = False
) -> UnitSolutions:
    """Find the surface charge for 1 V on each conductor in turn, the others at 0 V.

    The error of a capacitance falls about as one over the number of panels; about 1,200 panels give
    a field between deflection plates to a few parts in 10,000 (``estimate_error`` tells).

    Parameters
    ----------
    conductors
        At least one, each with a name of its own; they must not touch.
    is_even
        Whether every conductor is its own mirror image in z = 0, and so is its mesh: half of the
        charges tell the others.

    Returns
    -------
    UnitSolutions
        Charges, capacitances, and the potential and field at any point.

    Raises
    ------
    FieldMapError
        No conductor, a name used twice, panels that are not flat, or conductors that coincide.

    References
    ----------
    R. F. Harrington, Field Computation by Moment Methods, Macmillan 1968, chapter 2.
    """
    names = tuple(conductor.name for conductor in conductors)
    if not names or len(set(names)) < len(names):
        raise FieldMapError(
            f"Conductors named {names}: give at least one, each with a name of its own."
        )
    panels = np.concatenate([conductor.panels for conductor in conductors])
    counts = [len(conductor.panels) for conductor in conductors]
    owners = np.repeat(np.arange(len(names)), counts)
    table = panel_table(panels)
    at_one_volt = (owners[:, None] == np.arange(len(names))).astype(np.float64)
    middles = np.ascontiguousarray(panels[:, 4])
    partners = _mirror_images(middles) if is_even else np.arange(len(panels))
    asked = np.flatnonzero(partners >= np.arange(len(panels)))
    seen = np.empty((len(asked), len(panels)))
    fill_influence(table, np.ascontiguousarray(middles[asked]), seen)
    # Both of a pair have the same charge.
    influence = seen if len(asked) == len(panels) else (
        seen[:, asked] + seen[:, partners[asked]] * (partners[asked] != asked)
    )  # fmt: skip
    solved = _FOUR_PI_EPSILON * _solve(influence, at_one_volt[asked]).T
    charges = np.empty((len(names), len(panels)))
    charges[:, asked] = charges[:, partners[asked]] = solved
    held = charges * table.areas
    capacitance = np.stack([held @ column for column in at_one_volt.T])
    return UnitSolutions(names, panels, owners, charges, capacitance)


def _mirror_images(middles: Array) -> NDArray[np.intp]:
    """Give which panel (n,) is the mirror image of each in z = 0, from their middles (n, 3)."""
    away, partners = cKDTree(middles).query(middles * [1.0, 1.0, -1.0])
    if not (away < _SAME_PLACE * np.ptp(middles, axis=0).max()).all():
        raise FieldMapError("The mesh is not its own mirror image in z = 0.")
    return np.asarray(partners, dtype=np.intp)


def _solve(influence: Array, right_sides: Array) -> Array:
    """Solve for all right sides (n, k) with one factorisation; overwrites ``influence``."""
    size = float(np.abs(influence).sum(axis=1).max())
    # the transpose of a C-ordered matrix is what LAPACK takes without a copy
    factors, pivots, _ = lapack.dgetrf(influence.T, overwrite_a=True)
    reciprocal_condition, _ = lapack.dgecon(factors, size)
    if not reciprocal_condition > _WORST_CONDITION:
        raise FieldMapError(
            "The surface charge has no unique solution: two panels coincide, "
            "or a conductor lies on another. Move the conductors apart."
        )
    solved, _ = lapack.dgetrs(factors, pivots, right_sides, trans=1)
    return np.asarray(solved)


def _columns(points: ArrayLike) -> Array:
    """Points (g, 3) as rows of x, y, z (3, g)."""
    given = np.asarray(points, dtype=np.float64)
    if given.ndim != 2 or given.shape[1] != 3:
        raise FieldMapError(f"Points have the shape {given.shape}; give an array of shape (g, 3).")
    return np.ascontiguousarray(given.T)
