"""A bench as the physics layers see it: conductors, windings, obstacles, picture, field problem."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam import obstacles as met
from glowtrace.beam.screen import Canvas
from glowtrace.bench.map_grids import aperture_grid, map_grids
from glowtrace.bench.model import (
    Bench,
    CoilPair,
    LongCoil,
    Plates,
    Sphere,
)
from glowtrace.bench.screen_plane import ScreenPlane, plate_ends
from glowtrace.bench.settings import Settings, Tie
from glowtrace.fields.coils import Winding, long_coil_winding, pair_windings
from glowtrace.fields.electrodes import Conductor
from glowtrace.fields.interpolation import Grid
from glowtrace.fields.maps import FieldProblem, Glass
from glowtrace.fields.panels import disc_panels, rectangle_panels

Array = NDArray[np.float64]

_PLATE_PANELS = (22, 16)
_ANODE_PANELS = (9, 9)
_COARSE = 0.7
"""How fine the mesh is with which the accuracy is estimated."""
_PROBES = 200
_PROBED_GAP = 0.7
"""Part of the gap in which the accuracy is told: closer to the plates no trace is read."""


def plate_rectangles(plates: Plates) -> tuple[met.Rectangle, met.Rectangle]:
    """Give the upper and the lower plate as they stand in space."""

    def rectangle(ends: Array) -> met.Rectangle:
        x, y = ends.mean(axis=0).tolist()
        along, up = (ends[1] - ends[0]).tolist()
        return met.Rectangle((x, y, 0.0), (along, up, 0.0), (0.0, 0.0, plates.width))

    upper, lower = plate_ends(plates)
    return rectangle(upper), rectangle(lower)


def bench_obstacles(
    bench: Bench, *, has_screen: bool = True, has_walls: bool = True
) -> tuple[met.Obstacles, tuple[str, ...]]:
    """Give what stops electrons on this bench, and the name of every end code.

    Without its screen they fly through the phosphor, without its walls through all else; the names
    stay the same.
    """
    electrodes: dict[str, met.Rectangle | met.Disc] = {
        "anode": met.Disc((0.0, 0.0, 0.0), bench.gun.anode_radius)
    }
    if bench.plates:
        electrodes["upper plate"], electrodes["lower plate"] = plate_rectangles(bench.plates)
    envelope = bench.envelope
    glass = (
        met.Sphere(envelope.centre, envelope.radius)
        if isinstance(envelope, Sphere)
        else met.Cylinder(envelope.x_from, envelope.x_to, envelope.radius)
    )
    screen = screen_rectangle(bench) if has_screen else None
    standing, names = met.obstacles(electrodes, screen, glass)
    return (standing if has_walls else met.obstacles({}, screen, None)[0]), names


def screen_rectangle(bench: Bench) -> met.Rectangle | None:
    """Give the phosphor as it stands in space; none where the gas itself lights up."""
    plane = bench.plane
    if plane.glows:
        return None
    u0, v0, u1, v1 = plane.rectangle
    (low, high) = plane.place_in_space(np.array([[u0, 0.0], [u1, 0.0]]))
    along, centre = (high - low).tolist(), ((low + high) / 2).tolist()
    return met.Rectangle(tuple(centre), tuple(along), (0.0, v1 - v0, 0.0))


def canvas_of(plane: ScreenPlane) -> Canvas:
    """Give the picture plane in the form that the compiled kernels read."""
    u0, v0, _, _ = plane.rectangle
    return Canvas(
        glows=plane.glows,
        origin=plane.origin,
        along_u=plane.along_u,
        along_v=(0.0, 1.0, 0.0),
        lowest=(u0, v0),
        pixel=plane.pixel,
    )


def bench_windings(bench: Bench) -> tuple[Winding, ...]:
    """Give the coils as windings in series."""
    coils = bench.coils
    if isinstance(coils, CoilPair):
        return pair_windings(
            coils.mean_radius,
            coils.turns,
            coils.winding_width,
            coils.winding_depth,
            coils.spacing,
            coils.centre,
            coils.tilt_x,
            coils.tilt_y,
            coils.sense == "aiding",
        )
    if isinstance(coils, LongCoil):
        return (
            long_coil_winding(
                coils.mean_radius,
                coils.turns,
                coils.x_from,
                coils.x_to,
                coils.winding_depth,
                coils.shift_y,
                coils.shift_z,
            ),
        )
    return ()


def bench_conductors(bench: Bench, fineness: float = 1.0) -> tuple[Conductor, ...]:
    """Give the electrodes cut into panels, the anode first; ``fineness`` multiplies the counts."""

    def count(panels: int) -> int:
        return max(3, round(panels * fineness))

    gun = bench.gun
    anode = Conductor(
        "anode",
        disc_panels(
            (0.0, 0.0, 0.0),
            gun.anode_radius,
            gun.aperture_height,
            gun.aperture_width,
            gun.aperture_shape,
            count_radial=count(_ANODE_PANELS[0]),
            count_quarter=count(_ANODE_PANELS[1]),
        ),
    )
    if bench.plates is None:
        return (anode,)
    return (
        anode,
        *(
            Conductor(
                name,
                rectangle_panels(
                    plate.centre,
                    plate.edge_u,
                    plate.edge_v,
                    count(_PLATE_PANELS[0]),
                    count(_PLATE_PANELS[1]),
                ),
            )
            for name, plate in zip(
                ("upper plate", "lower plate"), plate_rectangles(bench.plates), strict=True
            )
        ),
    )


def electrode_voltages(settings: Settings) -> tuple[float, float]:
    """Give the potentials in V of the upper and the lower plate relative to the anode."""
    return plate_potentials(settings.signed_plate_voltage, settings.plate_tie)


def plate_potentials(across: float, tie: Tie) -> tuple[float, float]:
    """Give the potentials in V of the plates, ``across`` V apart, by what is tied to the anode."""
    if tie == "symmetric":
        return across / 2, -across / 2
    return (across, 0.0) if tie == "lower at anode" else (0.0, -across)


def field_problem(bench: Bench) -> FieldProblem:
    """Give everything that the field map of a bench depends on."""
    grids = map_grids(bench)
    envelope = bench.envelope
    if isinstance(envelope, Sphere):
        glass = Glass(envelope.centre, envelope.radius, is_tube=False)
    else:
        glass = Glass((0.0, 0.0, 0.0), envelope.radius, is_tube=True)
    return FieldProblem(
        electrodes=bench_conductors(bench),
        coarse_electrodes=bench_conductors(bench, _COARSE),
        windings=bench_windings(bench),
        glass=glass,
        grids=grids,
        aperture=aperture_grid(bench.gun, grids[-1]) if bench.plates else None,
        mirror_radius=bench.gun.anode_radius if grids[0].lowest[0] == 0.0 else 0.0,
        probes=_probe_points(bench, grids[0], glass),
        is_even=True,  # plates and anode are centred on z = 0, and tilted about it alone
    )


def _probe_points(bench: Bench, grid: Grid, glass: Glass) -> Array:
    """Spread points evenly over the region where the beam flies, clear of the plates.

    Between plates that is where they can turn the beam to without catching it; without plates coils
    can turn it anywhere in the glass.
    """
    low, high, plates, gun = np.array(grid.lowest), np.array(grid.highest), bench.plates, bench.gun
    if plates:
        end = plates.start + plates.length
        reach = _PROBED_GAP * plates.gap / 2
        beside = gun.aperture_width / 2 + end * math.tan(gun.divergence_sideways)
        low = np.maximum(low, [plates.start - plates.gap, plates.height_offset - reach, -beside])
        high = np.minimum(high, [end + plates.gap, plates.height_offset + reach, beside])
    else:
        low, high = low + 2 * grid.spacing, high - 2 * grid.spacing
    fractions = (np.arange(1, _PROBES + 1)[:, None] * np.sqrt([2.0, 3.0, 5.0])) % 1.0
    return glass.confine(low + fractions * (high - low), -float(grid.spacing.max()))
