"""Field maps: the fields of one bench on grids, one within the other.

A map holds one potential for each electrode at 1 V and the flux density of the coils at 1 A; any
setting of the knobs is a sum of these. It depends on geometry alone, so that it can be kept; see
`glowtrace.fields.map_files`.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import astuple, dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.errors import FieldMapError
from glowtrace.fields.coil_tables import flux_of_windings
from glowtrace.fields.coils import Winding, winding_field
from glowtrace.fields.convergence import estimate_error
from glowtrace.fields.electrodes import Conductor, UnitSolutions, solve_unit_potentials
from glowtrace.fields.interpolation import (
    MARGIN,
    Field,
    Grid,
    fields_at,
    spline_coefficients,
    superpose,
    tabulated_field,
)
from glowtrace.watching import Progress

Array = NDArray[np.float64]

_VERSION = "glowtrace field map 5"
_SLICES = 8
_SPLINE_REACHES = (1.5, 0.75, 0.0)
"""Cells beyond the glass up to which the flux density is the true one: the first of them that
stays out of the windings. A coil that hugs the glass leaves less, and costs accuracy there."""
_PASSING = 0.15
"""Part of an inner box at each side in which its field passes over into that of the box around."""
_TABLE_CELLS = 0.5
"""Cells of a coil's own table as a part of the map's: its error is a sixteenth of the map's."""


@dataclass(frozen=True)
class Glass:
    """Where electrons can be: within ``radius`` in m of ``centre`` (3,), or of a line through it.

    The corners of the map's box lie outside, where a winding may be; the flux density there is that
    at the nearest point of the glass, moved out by the reach of the spline.
    """

    centre: tuple[float, float, float]
    radius: float
    is_tube: bool
    """Whether the glass is a tube along x rather than a bulb."""

    def confine(self, points: Array, room: float) -> Array:
        """Move points (g, 3) that lie more than ``room`` outside the glass back to there."""
        outwards = points - np.array(self.centre)
        if self.is_tube:
            outwards[:, 0] = 0.0
        distance = np.linalg.norm(outwards, axis=1)
        beyond = np.maximum(distance - (self.radius + room), 0.0)
        share = np.divide(beyond, distance, out=np.zeros_like(beyond), where=distance > 0.0)
        moved: Array = points - share[:, None] * outwards
        return moved


@dataclass(frozen=True)
class FieldProblem:
    """Everything that a field map depends on."""

    electrodes: tuple[Conductor, ...]
    """The first is the reference at 0 V, the anode; each of the others gets a unit potential."""
    coarse_electrodes: tuple[Conductor, ...]
    """The same in fewer panels, to tell how accurate the solution is."""
    windings: tuple[Winding, ...]
    glass: Glass
    grids: tuple[Grid, ...]
    """From the outermost to the innermost, each within the one before: two at most."""
    aperture: Grid | None
    """The innermost grid, at the aperture in the anode's face, where there is a beam to start."""
    mirror_radius: float
    """Where the grids begin on the face of the anode: the radius of that disc in m; else 0.

    In ``grids`` the face counts as closed, and the potential is continued behind it with its sign
    changed, as it may be at a plane of one potential: the spline then sees no kink at the face. The
    aperture, which is smaller than their cells or not much larger, has its own grid.
    """
    probes: Array
    """Points (g, 3) in m at which the map is compared with the exact sums."""
    is_even: bool = False
    """Whether the electrodes are their own mirror images in z = 0, so that half of the sums do."""

    @property
    def all_grids(self) -> tuple[Grid, ...]:
        """The grids with that of the aperture."""
        return self.grids if self.aperture is None else (*self.grids, self.aperture)

    def electrodes_key(self) -> str:
        """Give the content hash of what the potentials depend on."""
        digest = self._digest()
        for conductor in (*self.electrodes, *self.coarse_electrodes):
            digest.update(conductor.name.encode())
            digest.update(np.ascontiguousarray(conductor.panels).tobytes())
        digest.update(repr(self.mirror_radius).encode())
        return digest.hexdigest()

    def coils_key(self) -> str:
        """Give the content hash of what the flux density depends on."""
        digest = self._digest()
        numbers = ([astuple(winding) for winding in self.windings], astuple(self.glass))
        digest.update(repr(numbers).encode())
        return digest.hexdigest()

    def _digest(self) -> hashlib.blake2b:
        digest = hashlib.blake2b(_VERSION.encode(), digest_size=16)
        grids = ([astuple(grid) for grid in self.grids], self.aperture and astuple(self.aperture))
        digest.update(repr(grids).encode())
        digest.update(np.ascontiguousarray(self.probes).tobytes())
        return digest


@dataclass(frozen=True)
class MapAccuracy:
    """Errors of a field map where the beam flies, as fractions of the largest field there.

    That of E is what the spline leaves out together with what the number of panels does; it is
    largest beside the edges of electrodes, where no trace is read.
    """

    electric_typical: float
    """Median over the probes."""
    electric_largest: float
    flux_typical: float
    flux_largest: float


@dataclass(frozen=True)
class PotentialMap:
    """The potentials of one bench, for 1 V on each electrode."""

    names: tuple[str, ...]
    """The k electrodes whose potential can be set; the anode is not among them."""
    potentials: Array
    """Spline coefficients (k, n) in V for each volt, grid after grid as `Field` has them."""
    typical_error: float
    largest_error: float
    """See `MapAccuracy`."""


@dataclass(frozen=True)
class FluxMap:
    """The flux density of one bench's coils, for 1 A."""

    flux: Array
    """Spline coefficients (3 n,) in T for each ampere, grid after grid as `Field` has them."""
    typical_error: float
    largest_error: float
    """See `MapAccuracy`."""


@dataclass(frozen=True)
class FieldMap:
    """The fields of one bench for 1 V on each electrode and 1 A in the coils."""

    grids: tuple[Grid, ...]
    """From the outermost to the innermost."""
    names: tuple[str, ...]
    """The k electrodes whose potential can be set; the anode is not among them."""
    potentials: Array
    """See `PotentialMap`."""
    flux: Array
    """See `FluxMap`."""
    accuracy: MapAccuracy

    def field(self, voltages: Sequence[float], current: float, uniform_flux: Array) -> Field:
        """Superpose: the field at given settings.

        Parameters
        ----------
        voltages
            Of the k electrodes relative to the anode, in V.
        current
            In the coils, in A.
        uniform_flux
            Flux density (3,) in T that is the same everywhere: Earth's.
        """
        potential = superpose(self.potentials, np.array(voltages, dtype=float))
        return tabulated_field(self.grids, potential, self.flux, current, uniform_flux)


def build_field_map(problem: FieldProblem, progress: Progress | None = None) -> FieldMap:
    """Compute the field map of a problem; see `FieldProblem`."""
    return join_maps(problem, build_potentials(problem, progress), build_flux(problem, progress))


def join_maps(problem: FieldProblem, electric: PotentialMap, magnetic: FluxMap) -> FieldMap:
    """Give the map of a problem from its two parts."""
    accuracy = MapAccuracy(
        electric.typical_error, electric.largest_error,
        magnetic.typical_error, magnetic.largest_error,
    )  # fmt: skip
    grids = problem.all_grids
    return FieldMap(grids, electric.names, electric.potentials, magnetic.flux, accuracy)


def build_potentials(
    problem: FieldProblem, progress: Progress | None = None, *, is_checked: bool = True
) -> PotentialMap:
    """Compute the potentials of the electrodes, as the first part of the work.

    Unchecked it is not compared with the exact sums, and its errors are NaN.
    """
    report = progress or (lambda fraction, words: None)
    names = tuple(conductor.name for conductor in problem.electrodes[1:])
    count = sum(math.prod(grid.shape) for grid in problem.all_grids)
    report(0.0, "charges on the electrodes")
    if not names:
        return PotentialMap((), np.zeros((0, count)), 0.0, 0.0)
    solutions = solve_unit_potentials(problem.electrodes, is_even=problem.is_even)
    tables: list[Array] = []
    for n, grid in enumerate(problem.all_grids):
        begin = 0.15 + 0.5 * n / len(problem.all_grids)
        points, shape = grid.points(), tuple(len(axis) for axis in grid.axes())
        mirrors = shape[2] // 2 if problem.is_even and grid.lowest[2] == -grid.highest[2] else 0
        summed = points.reshape(*shape, 3)[:, :, mirrors:].reshape(-1, 3)
        values = np.empty((len(names), len(summed)))
        for m, part in enumerate(np.array_split(np.arange(len(summed)), _SLICES)):
            share = 0.5 * m / _SLICES / len(problem.all_grids)
            report(begin + share, "potential between the electrodes")
            values[:, part] = solutions.potential(summed[part], names)
        values = values.reshape(len(names), *shape[:2], -1)
        if mirrors:
            values = np.concatenate([values[..., : -mirrors - 1 : -1], values], axis=3)
        is_aperture = grid is problem.aperture
        if problem.mirror_radius and not is_aperture:
            close_the_face(values, grid, problem.mirror_radius)
        if n > 0:
            weight = _inner_share(grid, problem.grids[0], ends_only=is_aperture)
            around = np.concatenate(tables, axis=1)
            _pass_over(values, weight, points, problem.all_grids[:n], around)
        tables.append(np.stack([spline_coefficients(each).ravel() for each in values]))
    potentials = np.concatenate(tables, axis=1)
    unchecked = PotentialMap(names, potentials, math.nan, math.nan)
    if not is_checked:
        return unchecked
    report(0.65, "comparing the map with the exact sums")
    errors = _electric_errors(unchecked, solutions, problem)
    return PotentialMap(names, potentials, float(np.median(errors)), float(errors.max()))


def build_flux(problem: FieldProblem, progress: Progress | None = None) -> FluxMap:
    """Compute the flux density of the coils, as the second part of the work."""
    report = progress or (lambda fraction, words: None)
    report(0.7, "field of the coils")
    flux = flux_table(problem.windings, problem.glass, problem.all_grids)
    errors = np.zeros(1)
    if problem.windings:
        report(0.95, "comparing the map with the exact sums")
        count = sum(math.prod(grid.shape) for grid in problem.all_grids)
        field = tabulated_field(problem.all_grids, np.zeros(count), flux, 1.0, np.zeros(3))
        _, mapped, _ = fields_at(field, problem.probes)
        errors = _errors(mapped, winding_field(problem.windings, problem.probes))
    report(1.0, "fields ready")
    return FluxMap(flux, float(np.median(errors)), float(errors.max()))


def flux_table(windings: Sequence[Winding], glass: Glass, grids: Sequence[Grid]) -> Array:
    """Give the spline coefficients (3 n,) of the flux density of coils, in T at 1 A.

    FieldMapError where a winding reaches into the glass.
    """
    tables = []
    for grid in grids:
        points, cell = grid.points(), float(grid.spacing.max())
        for reach in _SPLINE_REACHES:
            try:
                outermost = float(grids[0].spacing.max()) * reach
                confined = glass.confine(points, outermost)
                flux = flux_of_windings(windings, confined, _TABLE_CELLS * cell)
                break
            except FieldMapError:
                if reach == _SPLINE_REACHES[-1]:
                    raise
        shape = tuple(len(axis) for axis in grid.axes())
        table = np.moveaxis(spline_coefficients(flux.reshape(*shape, 3)), 3, 2)
        tables.append(np.ascontiguousarray(table).ravel())
    return np.concatenate(tables)


def close_the_face(values: Array, grid: Grid, radius: float) -> None:
    """Put the anode's face at 0 V, and behind it minus the mirror image; values (k, x, y, z)."""
    if grid.lowest[0] != 0.0:
        return
    _, y, z = grid.axes()
    on_disc = y[:, None] ** 2 + z[None, :] ** 2 < radius**2
    values[:, MARGIN][:, on_disc] = 0.0
    for layer in range(1, MARGIN + 1):
        ahead = values[:, MARGIN + layer]
        behind = values[:, MARGIN - layer]
        behind[:, on_disc] = -ahead[:, on_disc]


def _inner_share(grid: Grid, outermost: Grid, *, ends_only: bool) -> Array:
    """Give how much of a grid's own values count at its nodes (x, y, z): 1 inside, 0 at its sides.

    A side that is one of the outermost box stays, as do all nodes beyond that box; ``ends_only``
    keeps the sides along the beam as well.
    """
    shares, known = [], []
    corners = zip(grid.lowest, grid.highest, outermost.lowest, outermost.highest, strict=True)
    for n, (axis, (low, high, first, last)) in enumerate(zip(grid.axes(), corners, strict=True)):
        room, reach = axis[1] - axis[0], _PASSING * (high - low)
        keeps = n > 0 and ends_only
        from_low = np.ones(len(axis)) if keeps or low - first < room else (axis - low) / reach
        from_high = np.ones(len(axis)) if keeps or last - high < room else (high - axis) / reach
        part = np.clip(np.minimum(from_low, from_high), 0.0, 1.0)
        shares.append(part**3 * (10.0 - part * (15.0 - 6.0 * part)))
        known.append((first <= axis) & (axis <= last))
    x, y, z = shares
    in_x, in_y, in_z = known
    is_known = in_x[:, None, None] & in_y[:, None] & in_z
    return np.where(is_known, x[:, None, None] * y[:, None] * z, 1.0)


def _pass_over(
    values: Array, weight: Array, points: Array, around: Sequence[Grid], tables: Array
) -> None:
    """Let values (k, x, y, z) pass into those of the boxes around: no step meets a jump there."""
    mixed = weight.ravel() < 1.0
    no_flux = np.zeros(3 * tables.shape[1])
    for own, table in zip(values.reshape(len(values), -1), tables, strict=True):
        field = tabulated_field(around, table, no_flux, 0.0, np.zeros(3))
        share = weight.ravel()[mixed]
        own[mixed] = share * own[mixed] + (1.0 - share) * fields_at(field, points[mixed])[2]


def _electric_errors(built: PotentialMap, solutions: UnitSolutions, problem: FieldProblem) -> Array:
    """Compare the map with the exact sums at the probes, and those with a coarser mesh."""
    probes = problem.probes
    coarse = solve_unit_potentials(problem.coarse_electrodes, is_even=problem.is_even)
    panels = estimate_error(coarse, solutions, probes).field[1:]
    exact = solutions.electric_field(probes, built.names)
    errors, no_flux = np.zeros(len(probes)), np.zeros(3 * built.potentials.shape[1])
    for table, truth, left_out in zip(built.potentials, exact, panels, strict=True):
        field = tabulated_field(problem.all_grids, table, no_flux, 0.0, np.zeros(3))
        mapped, _, _ = fields_at(field, probes)
        errors = np.maximum(errors, _errors(mapped, truth) + left_out)
    return errors


def _errors(mapped: Array, exact: Array) -> Array:
    """Give the errors (g,) of vectors (g, 3) as fractions of the largest exact one."""
    largest = np.linalg.norm(exact, axis=1).max()
    return np.asarray(np.linalg.norm(mapped - exact, axis=1) / (largest or 1.0))
