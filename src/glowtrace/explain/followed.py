"""The one electron that is followed: where it leaves the aperture, and the path that it takes.

It stands for the whole trace. On a grazed sheet and in gas it is the beam's axis; the sheet, which
each electron of a flat beam meets at another place, is taken out of its way, so that it runs along
the whole trace. In a long coil the axis has nothing to show, as no force acts along it: there an
electron at the edge of the diverging beam is followed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import Flights, fly_electrons
from glowtrace.beam.obstacles import SCREEN, Obstacles
from glowtrace.bench.layout import bench_obstacles
from glowtrace.bench.model import Bench, EndFace, GasGlow, LongCoil, Sheet
from glowtrace.bench.picture import Model, Ray
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.constants import REST_ENERGY_VOLTS, SPEED_OF_LIGHT
from glowtrace.fields.interpolation import IDEAL, Field, fields_at

Array = NDArray[np.float64]
_SAMPLES = 400
_TWICE = 1e-6
"""Part of the longest step below which two points count as one."""
_LONGEST = 0.6
"""Length of path in m after which an electron in a vacuum tube is left."""


@dataclass(frozen=True)
class Start:
    """How an electron leaves the aperture, at x = 0."""

    y: float = 0.0
    """m."""
    z: float = 0.0
    """m."""
    up: float = 0.0
    """Angle in rad to the axis, in the x-y plane."""
    aside: float = 0.0
    """The same in the x-z plane."""


AXIS = Start()


def usual_start(bench: Bench) -> Start:
    """Give the start of the electron that shows what this bench does; see the module."""
    if isinstance(bench.coils, LongCoil) and isinstance(bench.screen, EndFace):
        return Start(up=bench.gun.divergence_vertical)
    return AXIS


def followed_ray(
    prepared: PreparedBench,
    settings: Settings,
    *,
    model: Model = "bench",
    start: Start | None = None,
    samples: int = _SAMPLES,
) -> Ray:
    """Follow one electron from the aperture to its end.

    Parameters
    ----------
    prepared, settings
        The bench and its knobs. The electron has the accelerating voltage, and the potential at
        its starting point, without spread and ripple.
    model
        See `Model`.
    start
        How it leaves; `usual_start` of the bench when left out.
    samples
        Points on the path, at equal distances, 3 or more.

    Returns
    -------
    Ray
        Without any points where the electron does not leave the gun: the heater is off, or there
        is no accelerating voltage.
    """
    walls, names = _walls(prepared.bench)
    field = prepared.field(settings, model)
    state = leave(field, settings, start or usual_start(prepared.bench))
    if state is None:
        nowhere = np.zeros((0, 3))
        none = np.zeros(0)
        return Ray(model, none, nowhere, nowhere, none, nowhere, nowhere, "turned back in the gun")
    longest = _LONGEST
    if isinstance(prepared.bench.screen, GasGlow):
        longest = 2.0 * math.pi * prepared.bench.envelope.radius
    whole = _fly(field, walls, state, longest, longest / 398, 400)
    flown = _used(whole)
    length = float(np.linalg.norm(np.diff(flown[:, :3], axis=0), axis=1).sum())
    flight = _fly(field, walls, state, longest, max(length / max(samples - 2, 1), 1e-6), samples)
    path = _used(flight)
    momentum = path[:, 3:6]
    gamma = np.sqrt(1.0 + (momentum**2).sum(axis=1) / SPEED_OF_LIGHT**2)
    electric, flux, potential = fields_at(field, path[:, :3])
    return Ray(
        model=model,
        time=path[:, 6],
        position=path[:, :3],
        velocity=momentum / gamma[:, None],
        potential=potential,
        electric_field=electric,
        flux_density=flux,
        end=names[flight.ends[0]],
    )


def leave(field: Field, settings: Settings, start: Start) -> Array | None:
    """Position in m and gamma v in m/s (6,) behind the aperture; None where nothing leaves.

    An electron has the energy of the potential at its own starting point: a field that reaches
    through to the aperture has already done its work there.
    """
    if not settings.heater_on:
        return None
    voltage = settings.accelerating_voltage
    if field.kind != IDEAL:
        voltage += float(fields_at(field, np.array([[0.0, start.y, start.z]]))[2][0])
    if voltage <= 0.0:
        return None
    ratio = voltage / REST_ENERGY_VOLTS
    momentum = SPEED_OF_LIGHT * math.sqrt(ratio * (ratio + 2.0))
    way = np.array([1.0, math.tan(start.up), math.tan(start.aside)])
    return np.array([0.0, start.y, start.z, *(momentum * way / np.linalg.norm(way))])


def _walls(bench: Bench) -> tuple[Obstacles, tuple[str, ...]]:
    """What stops the followed electron, without a grazed sheet, and the names of the ends."""
    walls, names = bench_obstacles(bench)
    if isinstance(bench.screen, Sheet):
        walls = walls._replace(flat=walls.flat[walls.flat[:, -1] != SCREEN])
    return walls, names


def _fly(
    field: Field, walls: Obstacles, state: Array, longest: float, spacing: float, stations: int
) -> Flights:
    return fly_electrons(
        field, walls, state[None], stations=stations, station_spacing=spacing, longest=longest,
        threads=1,
    )  # fmt: skip


def _used(flight: Flights) -> Array:
    """Give the stations that were written."""
    path = flight.paths[0]
    written: Array = path[~np.isnan(path[:, 0])]
    # The end can fall on the last station, and would be there twice.
    steps = np.diff(written[:, 6])
    is_new = np.concatenate([[True], steps > _TWICE * steps.max(initial=0.0)])
    kept: Array = written[is_new]
    return kept
