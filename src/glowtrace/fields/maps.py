"""Field maps: the fields of one bench on a grid, computed once and kept on disk.

A map holds one potential for each electrode at 1 V and the flux density of the coils at 1 A; any
setting of the knobs is a sum of these. It depends on geometry alone, so it is kept under a hash of
that geometry: a changed bench finds no map, and an unchanged one finds its own.
"""

from __future__ import annotations

import functools
import hashlib
import io
import threading
import warnings
import zipfile
from collections.abc import Sequence
from dataclasses import astuple, dataclass, replace
from pathlib import Path

import numpy as np
import platformdirs
from numpy.typing import NDArray

from glowtrace.disk import write_whole
from glowtrace.errors import FieldMapError, GlowtraceWarning
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

_VERSION = "glowtrace field map 2"
_SLICES = 8
_SPLINE_REACHES = (1.5, 0.75, 0.0)
"""Cells beyond the glass up to which the flux density is the true one: the first of them that
stays out of the windings. A coil that hugs the glass leaves less, and costs accuracy there."""


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
    grid: Grid
    mirror_radius: float
    """Where the grid begins on the face of the anode: the radius of that disc in m; else 0.

    Behind the face the potential is continued with its sign changed, as it may be at a plane of
    one potential: the spline then sees no kink where every electron starts.
    """
    probes: Array
    """Points (g, 3) in m at which the map is compared with the exact sums."""

    def key(self) -> str:
        """Give the content hash under which the map is kept."""
        digest = hashlib.blake2b(_VERSION.encode(), digest_size=16)
        for conductor in (*self.electrodes, *self.coarse_electrodes):
            digest.update(conductor.name.encode())
            digest.update(np.ascontiguousarray(conductor.panels).tobytes())
        numbers = (
            [astuple(winding) for winding in self.windings],
            astuple(self.glass),
            astuple(self.grid),
            self.mirror_radius,
        )
        digest.update(repr(numbers).encode())
        digest.update(np.ascontiguousarray(self.probes).tobytes())
        return digest.hexdigest()


@dataclass(frozen=True)
class MapAccuracy:
    """Estimated errors of a field map, as fractions of the largest field at the probes.

    That of E is what the spline leaves out together with what the number of panels does; it is
    largest beside the edges of electrodes, where no trace is read.
    """

    electric_typical: float
    """Median over the probes."""
    electric_largest: float
    flux_typical: float
    flux_largest: float


@dataclass(frozen=True)
class FieldMap:
    """The fields of one bench for 1 V on each electrode and 1 A in the coils."""

    grid: Grid
    names: tuple[str, ...]
    """The k electrodes whose potential can be set; the anode is not among them."""
    potentials: Array
    """Spline coefficients (k, x, y, z) in V for each volt."""
    flux: Array
    """Spline coefficients (x, y, 3, z) in T for each ampere."""
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
        return tabulated_field(self.grid, potential, self.flux, current, uniform_flux)


def field_map_folder() -> Path:
    """Give the folder in which field maps are kept unless another one is named."""
    return Path(platformdirs.user_cache_dir("glowtrace")) / "fields"


def load_or_build(
    problem: FieldProblem, folder: Path | None = None, progress: Progress | None = None
) -> FieldMap:
    """Give the field map of a problem: from disk where it is there and sound, else computed.

    Two processes may do this at once: each writes to a file of its own and puts it in place in one
    step. A map that cannot be written is used all the same, with a `GlowtraceWarning`.
    """
    folder = folder or field_map_folder()
    path = folder / f"{problem.key()}.npz"
    stored = _read(path, problem)
    if stored is not None:
        return stored
    with all_cores():  # whoever waited may find the map ready
        stored = _read(path, problem)
        built = stored or build_field_map(problem, progress)
    if stored is not None:
        return stored
    try:
        _write(path, built)
    except OSError as failure:
        warnings.warn(
            f"The field map could not be kept in {folder} ({failure.strerror}); "
            "it will be computed again next time. Free some space or choose another cache folder.",
            GlowtraceWarning,
            stacklevel=2,
        )
    return built


@functools.cache
def all_cores() -> threading.Lock:
    """Give the lock to hold while kernels run on all cores, such as `winding_field`.

    One at a time in a process: not every set of numba's threads may be called from two sides at
    once.
    """
    return threading.Lock()


def build_field_map(problem: FieldProblem, progress: Progress | None = None) -> FieldMap:
    """Compute the field map of a problem; see `FieldProblem`."""
    report = progress or (lambda fraction, words: None)
    grid = problem.grid
    points = grid.points()
    shape = tuple(len(axis) for axis in grid.axes())
    names = tuple(conductor.name for conductor in problem.electrodes[1:])

    report(0.0, "charges on the electrodes")
    solutions = solve_unit_potentials(problem.electrodes) if names else None
    potentials = np.zeros((len(names), *(count - 2 for count in shape)))
    if solutions is not None:
        values = np.empty((len(names), len(points)))
        for n, part in enumerate(np.array_split(np.arange(len(points)), _SLICES)):
            report(0.15 + 0.5 * n / _SLICES, "potential between the electrodes")
            values[:, part] = solutions.potential(points[part], names)
        values = values.reshape(len(names), *shape)
        if problem.mirror_radius:
            _continue_behind_anode(values, grid, problem.mirror_radius)
        potentials = np.stack([spline_coefficients(each) for each in values])

    report(0.65, "field of the coils")
    flux = flux_table(problem.windings, problem.glass, grid)

    report(0.95, "comparing the map with the exact sums")
    built = FieldMap(grid, names, potentials, flux, MapAccuracy(0.0, 0.0, 0.0, 0.0))
    accuracy = _accuracy_at_probes(built, solutions, problem)
    report(1.0, "fields ready")
    return replace(built, accuracy=accuracy)


def flux_table(windings: Sequence[Winding], glass: Glass, grid: Grid) -> Array:
    """Give the spline coefficients (x, y, 3, z) of the flux density of coils, in T at 1 A.

    Call it under `all_cores`. FieldMapError where a winding reaches into the glass.
    """
    points, cell = grid.points(), float(grid.spacing.max())
    for reach in _SPLINE_REACHES:
        try:
            flux = winding_field(windings, glass.confine(points, reach * cell))
            break
        except FieldMapError:
            if reach == _SPLINE_REACHES[-1]:
                raise
    shape = tuple(len(axis) for axis in grid.axes())
    return np.ascontiguousarray(np.moveaxis(spline_coefficients(flux.reshape(*shape, 3)), 3, 2))


def _continue_behind_anode(values: Array, grid: Grid, radius: float) -> None:
    """Replace the potential behind the anode's face by minus its mirror image."""
    _, y, z = grid.axes()
    on_disc = y[:, None] ** 2 + z[None, :] ** 2 < radius**2
    for layer in range(1, MARGIN + 1):
        ahead = values[:, MARGIN + layer]
        behind = values[:, MARGIN - layer]
        behind[:, on_disc] = -ahead[:, on_disc]


def _accuracy_at_probes(
    built: FieldMap, solutions: UnitSolutions | None, problem: FieldProblem
) -> MapAccuracy:
    """Compare the map with the exact sums at the probes, and those with a coarser mesh."""
    probes = problem.probes
    electric = flux = np.zeros(len(probes))
    if solutions is not None:
        coarse = solve_unit_potentials(problem.coarse_electrodes)
        panels = estimate_error(coarse, solutions, probes).field[1:]
        exact = solutions.electric_field(probes, built.names)
        for unit, truth, left_out in zip(np.eye(len(built.names)), exact, panels, strict=True):
            mapped, _, _ = fields_at(built.field(unit.tolist(), 0.0, np.zeros(3)), probes)
            electric = np.maximum(electric, _errors(mapped, truth) + left_out)
    if problem.windings:
        field = built.field([0.0] * len(built.names), 1.0, np.zeros(3))
        _, mapped, _ = fields_at(field, probes)
        flux = _errors(mapped, winding_field(problem.windings, probes))
    return MapAccuracy(
        float(np.median(electric)), float(electric.max()), float(np.median(flux)), float(flux.max())
    )


def _errors(mapped: Array, exact: Array) -> Array:
    """Give the errors (g,) of vectors (g, 3) as fractions of the largest exact one."""
    largest = np.linalg.norm(exact, axis=1).max()
    return np.asarray(np.linalg.norm(mapped - exact, axis=1) / (largest or 1.0))


def _read(path: Path, problem: FieldProblem) -> FieldMap | None:
    """Read a map; a file that is missing, cut short or damaged counts as not there."""
    try:
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as stored:
            return FieldMap(
                problem.grid,
                tuple(str(name) for name in stored["names"]),
                stored["potentials"],
                stored["flux"],
                MapAccuracy(*stored["accuracy"].tolist()),
            )
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None


def _write(path: Path, built: FieldMap) -> None:
    content = io.BytesIO()
    np.savez(
        content,
        names=np.array(built.names, dtype=np.str_),
        potentials=built.potentials,
        flux=built.flux,
        accuracy=np.array(astuple(built.accuracy)),
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, content.getvalue())
