"""One electron followed from the aperture to its end, with the fields that it meets."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import Flights, fly_electrons
from glowtrace.beam.obstacles import Obstacles
from glowtrace.bench.picture import Model, Ray
from glowtrace.bench.settings import Settings
from glowtrace.constants import REST_ENERGY_VOLTS, SPEED_OF_LIGHT
from glowtrace.fields.interpolation import IDEAL, Field, fields_at

Array = NDArray[np.float64]
_FIRST_STATIONS = 400
"""Points of the first flight, which tells only how long the path is."""
_SHORTEST = 1e-6
"""Distance in m between two points of a path, at least."""
_TWICE = 1e-6
"""Part of the longest step below which two points count as one."""


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


def follow(
    field: Field,
    walls: Obstacles,
    end_names: tuple[str, ...],
    state: Array | None,
    *,
    model: Model,
    longest: float,
    samples: int,
) -> Ray:
    """Follow one electron to its end.

    It flies twice, the first time for the length of its path alone: a few hundred points of one
    electron cost less than finding equal distances among thousands.

    Parameters
    ----------
    field, walls, end_names
        What it flies through, what it can end on, and the names of that by their code.
    state
        Position in m and gamma v in m/s (6,) at its start, as `leave` gives it; None where it
        never leaves the gun.
    model
        Of the fields.
    longest
        Length of path in m after which it is given up.
    samples
        Points on the path, at equal distances, 3 or more; the last one is its end.

    Returns
    -------
    Ray
        Without any points where it does not leave the gun.
    """
    if state is None:
        nowhere, none = np.zeros((0, 3)), np.zeros(0)
        return Ray(model, none, nowhere, nowhere, none, nowhere, nowhere, "turned back in the gun")

    def fly(length: float, stations: int) -> Flights:
        spacing = max(length / (stations - 2), _SHORTEST)
        # Sharing one electron out among threads would take longer than its flight.
        return fly_electrons(
            field, walls, state[None], stations=stations, station_spacing=spacing,
            longest=longest, threads=1,
        )  # fmt: skip

    coarse = _written(fly(longest, _FIRST_STATIONS))[:, :3]
    flight = fly(float(np.linalg.norm(np.diff(coarse, axis=0), axis=1).sum()), samples)
    path = _written(flight)
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
        end=end_names[flight.ends[0]],
    )


def leave(field: Field, settings: Settings, start: Start = AXIS) -> Array | None:
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


def _written(flight: Flights) -> Array:
    """Give the points that were written."""
    path = flight.paths[0]
    written: Array = path[~np.isnan(path[:, 0])]
    # The end can fall on the last station, and would be there twice.
    steps = np.diff(written[:, 6])
    is_new = np.concatenate([[True], steps > _TWICE * steps.max(initial=0.0)])
    kept: Array = written[is_new]
    return kept
