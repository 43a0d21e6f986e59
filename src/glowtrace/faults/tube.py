"""The tube with a fault: flies electrons through the fields of a condition.

The fields are those of the bench on a coarser map, with a table of its own for each coil. What
that costs in accuracy is a small part of a millimetre, far below what a fault does.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import fly_bundle
from glowtrace.beam.source import Source
from glowtrace.bench.acting import ActingErrors, acting_errors
from glowtrace.bench.known_fields import Winding
from glowtrace.bench.layout import bench_windings, field_problem
from glowtrace.bench.learning import learn
from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import Classifier
from glowtrace.faults.added_fields import dipole_flux, patch_potential
from glowtrace.faults.appearance import Appearance, lift_at
from glowtrace.faults.condition import Condition, Displacement, Magnet, Patch
from glowtrace.faults.moved_coils import moved_clear
from glowtrace.fields.electrodes import solve_unit_potentials
from glowtrace.fields.interpolation import Field, Grid, superpose, tabulated_field
from glowtrace.fields.map_files import load_or_build
from glowtrace.fields.maps import FieldMap, Glass, flux_table
from glowtrace.watching import Progress

Array = NDArray[np.float64]

_CELLS = 24_000
"""Cells of the map down to which it is made coarser; a field's scale is centimetres."""
_ELECTRONS = {"line": 72, "spot": 72, "path": 16}
_COLUMNS = 12
_STATION_SPACING = 0.0025
_TOLERANCE = 1e-6
"""Error of position in m allowed per step."""
_COARSE_PIXELS = 10.0
_GAS_REACH = 0.05
"""Distance in m along a path in gas at which its lift is read."""
_SHEET_REACH = 0.8
"""The same for a sheet, as a part of its length."""
_RECENT = 8
"""Tables of magnets and charges that are kept for the next setting of the knobs."""
_WHOLE_WIDTH = 2.0
"""Edge of an evenly lit disc, as a multiple of the root mean square of its height and width."""


@dataclass(frozen=True, eq=False)
class FaultyTube:
    """The forward model of the diagnosis: a condition in, its appearance out."""

    prepared: PreparedBench
    fields: FieldMap
    glass: Glass
    windings: tuple[Winding, ...]
    induced: tuple[float, float]
    """See `glowtrace.faults.fault.Scene`."""
    errors: ActingErrors
    """How far a tube in order may be off from its meters and its description."""

    @property
    def bench(self) -> Bench:
        """The bench."""
        return self.prepared.bench

    @property
    def reach(self) -> float:
        """Distance in m along the line at which its lift is read."""
        u0, _, u1, _ = self.prepared.plane.rectangle
        return _GAS_REACH if self.prepared.plane.glows else _SHEET_REACH * (u1 - u0)

    def appearance(self, condition: Condition, settings: Settings, seed: int = 0) -> Appearance:
        """Give what would be seen.

        Parameters
        ----------
        condition
            What the tube gets.
        settings
            What is set: which causes of width count, and whether the plates share the supply.
        seed
            Shifts the sequence of electrons.
        """
        found = self._settled(condition, settings, seed)
        before = condition.at_first
        if before is condition or not found.is_lit:
            return found
        return replace(found, creep=_way(self._settled(before, settings, seed), found))

    def _settled(self, condition: Condition, settings: Settings, seed: int) -> Appearance:
        """Give what is seen once all charge has gathered and the coils are warm."""
        if not condition.has_beam:
            return _seen(condition, np.zeros((0, 2)), self.reach, np.zeros(0), 0.0)
        plane = self.prepared.plane
        pixel = _COARSE_PIXELS * plane.pixel
        u0, v0, u1, v1 = plane.rectangle
        longest = self.prepared.longest
        in_gas = math.ceil(longest / _STATION_SPACING)
        rows = {"spot": 1, "line": _COLUMNS, "path": in_gas}[plane.shows]
        electrons = _ELECTRONS[plane.shows]
        acting = settings_that_act(condition, settings)
        bundle = fly_bundle(
            self.field(condition),
            self.prepared.walls,
            self._source(condition, settings),
            self.prepared.canvas._replace(pixel=pixel),
            electrons=electrons,
            seed=seed,
            image_shape=(math.ceil((v1 - v0) / pixel), math.ceil((u1 - u0) / pixel)),
            rows=rows,
            end_codes=len(self.prepared.end_names),
            keep_landings=electrons,
            keep_paths=electrons if plane.glows else 0,
            station_spacing=_STATION_SPACING,
            tolerance=_TOLERANCE,
            longest=longest,
            threads=1,
        )
        picture = self.prepared.picture_of(bundle, acting, seed, "bench", pixel)
        trace = picture.mean_trace
        points, width, stretch = np.stack([trace.u, trace.v], axis=1), trace.width_v, 1.0
        if plane.is_spot and len(points):
            width, stretch = _spot_width(bundle.sums[0])
        energy = condition.accelerating_voltage / settings.accelerating_voltage
        light = condition.emission * (1.0 if plane.glows else energy)
        seen = _seen(condition, points, self.reach, width, light)
        aside = _aside(picture.paths) if plane.glows else 0.0
        kind = self._classifier.of_picture(picture)
        return replace(seen, kind=kind, aside=aside, stretch=stretch)

    @cached_property
    def _classifier(self) -> Classifier:
        return Classifier(self.prepared)

    def _source(self, condition: Condition, settings: Settings) -> Source:
        usual = self.prepared.source(settings)
        gun, plates, coils = condition.ripple
        return usual._replace(
            accelerating_voltage=condition.accelerating_voltage,
            divergence_vertical=usual.divergence_vertical + condition.scatter,
            divergence_sideways=usual.divergence_sideways + condition.scatter,
            ripple=gun,
            plate_ripple=plates,
            coil_ripple=coils,
        )

    def field(self, condition: Condition) -> Field:
        """Give the fields that electrons fly through."""
        voltages = np.array(condition.plates[: len(self.fields.names)])
        potential = superpose(self.fields.potentials, voltages)
        if condition.patch:
            potential = potential + self._patch_potential(condition.patch)
        flux, current = self._coil_flux(condition)
        if condition.magnet:
            flux, current = current * flux + self._magnet_flux(condition.magnet), 1.0
        return tabulated_field(self.fields.grids, potential, flux, current, condition.room_flux)

    def _coil_flux(self, condition: Condition) -> tuple[Array, float]:
        """Give a table of flux density and the current that multiplies it."""
        tables = self._coil_tables(condition.displacement)
        tail, tip = condition.coils
        if not tables or (tail == 0.0 and tip == 0.0):
            return self.fields.flux, 0.0
        if len(tables) == 1:
            return tables[0], tail
        if tail == tip:
            return self._pair_table(condition.displacement), tail
        return tail * tables[0] + tip * tables[1], 1.0

    @cached_property
    def _coil_tables(self) -> Callable[[Displacement | None], tuple[Array, ...]]:
        return cache(self._tables_of)

    @cached_property
    def _pair_table(self) -> Callable[[Displacement | None], Array]:
        def added(displacement: Displacement | None) -> Array:
            tail, tip = self._coil_tables(displacement)
            return tail + tip

        return cache(added)

    def _tables_of(self, displacement: Displacement | None) -> tuple[Array, ...]:
        """Give the spline coefficients of each coil's flux density for 1 A."""
        grids = self.fields.grids
        windings = self.windings
        if displacement is not None:
            nodes = self.glass.confine(grids[0].points(), 0.0)
            windings = moved_clear(windings, displacement, nodes)
        return tuple(flux_table([winding], self.glass, grids) for winding in windings)

    @cached_property
    def _nodes(self) -> tuple[Array, ...]:
        """Nodes (i, j, k, 3) in m of the spline's coefficients, grid by grid."""
        return tuple(grid.coefficient_places() for grid in self.fields.grids)

    @cached_property
    def middle(self) -> tuple[float, float, float]:
        """Middle of the part of the tube that is seen, (3,) m."""
        plane = self.bench.plane
        x = plane.x_to / 2 if plane.is_spot else (plane.x_from + plane.x_to) / 2
        return (x, 0.0, 0.0)

    @cached_property
    def _magnet_flux(self) -> Callable[[Magnet], Array]:
        def table(magnet: Magnet) -> Array:
            each = (dipole_flux(nodes - self.middle, magnet).ravel() for nodes in self._nodes)
            return np.concatenate(tuple(each))

        return lru_cache(_RECENT)(table)

    @cached_property
    def _patch_potential(self) -> Callable[[Patch], Array]:
        def table(patch: Patch) -> Array:
            each = (patch_potential(nodes, patch).ravel() for nodes in self._nodes)
            return np.concatenate(tuple(each))

        return lru_cache(_RECENT)(table)


def faulty_tube(
    prepared: PreparedBench, *, progress: Progress | None = None, cache_dir: Path | None = None
) -> FaultyTube:
    """Compute the fields that the diagnosis needs, or load them where they were kept."""
    problem = field_problem(prepared.bench)
    grids = tuple(_coarser(grid, _CELLS // len(problem.grids)) for grid in problem.grids)
    fields = load_or_build(replace(problem, grids=grids), cache_dir, progress)
    windings = bench_windings(prepared.bench)
    errors = acting_errors(prepared.bench, learn(prepared).after)
    return FaultyTube(prepared, fields, problem.glass, windings, _induced(prepared.bench), errors)


def _coarser(grid: Grid, most: int) -> Grid:
    """Give the box with at most about so many cells."""
    share = min(1.0, (most / math.prod(grid.cells)) ** (1.0 / 3.0))
    x, y, z = (max(8, round(share * count)) for count in grid.cells)
    return replace(grid, cells=(x, y, z))


@cache
def _induced(bench: Bench) -> tuple[float, float]:
    """Give the potentials of a floating plate; see `Scene`."""
    if bench.plates is None:
        return 0.0, 0.0
    solutions = solve_unit_potentials(field_problem(bench).coarse_electrodes)
    c = solutions.capacitance
    upper, lower = solutions.names.index("upper plate"), solutions.names.index("lower plate")
    return (
        float(-c[upper, lower] / c[upper, upper]),
        float(-c[lower, upper] / c[lower, lower]),
    )


def settings_that_act(condition: Condition, settings: Settings) -> Settings:
    """Give the knobs that would make what the tube gets, as far as knobs can."""
    upper, lower = condition.plates
    tail, tip = condition.coils
    current = 0.5 * (tail + tip) if tip else tail
    return settings.model_copy(
        update={
            "accelerating_voltage": condition.accelerating_voltage,
            "heater_on": condition.has_beam,
            "plate_voltage": abs(upper - lower),
            "plate_reversed": upper < lower,
            "coil_current": abs(current),
            "coil_reversed": current < 0.0,
        }
    )


def _spot_width(sums: Array) -> tuple[Array, float]:
    """Give the radius (1,) of a spot's edge, and how much longer it is than wide."""
    weight, u, v, uu, uv, vv = sums
    u, v, uu, uv, vv = u / weight, v / weight, uu / weight, uv / weight, vv / weight
    spread = np.array([[uu - u * u, uv - u * v], [uv - u * v, vv - v * v]])
    short, long = np.sqrt(np.maximum(np.linalg.eigvalsh(spread), 1e-12))
    return np.array([_WHOLE_WIDTH * math.sqrt((short**2 + long**2) / 2.0)]), float(long / short)


def _aside(paths: Array) -> float:
    """Give how far the middle of paths (p, t, 3) leaves the picture's plane, m."""
    flown = ~np.isnan(paths[:, :, 2])
    middle = np.where(flown, paths[:, :, 2], 0.0).sum(axis=0) / np.maximum(flown.sum(axis=0), 1)
    return float(np.abs(middle[flown.sum(axis=0) >= len(paths) / 2]).max(initial=0.0))


def _way(before: Appearance, after: Appearance) -> float:
    """Give how far a picture moves in m; one that appears has moved without end."""
    if not before.is_lit:
        return math.inf
    if len(after.line) == 1:
        return float(np.hypot(*(after.line[0] - before.line[0])))
    return abs(after.lift - before.lift)


def _seen(
    condition: Condition, points: Array, reach: float, width: Array, light: float
) -> Appearance:
    is_lit = len(points) > 0
    return Appearance(
        is_lit=is_lit,
        line=points,
        lift=lift_at(points, reach),
        width=float(np.median(width)) if is_lit else math.nan,
        far_width=float(np.median(width[-max(1, len(width) // 4) :])) if is_lit else math.nan,
        brightness=light if is_lit else 0.0,
        filament=condition.filament,
        haze=condition.haze,
        flickers=condition.flickers,
        meter_high_tension=condition.meter_high_tension,
        meter_coils=condition.meter_coils,
        meter_plates=condition.meter_plates,
        is_misread=condition.is_misread,
    )
