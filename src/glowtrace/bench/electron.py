"""One electron: how it is launched, and how it flies to its end.

**The height of the line at a place** is one number wherever Glowtrace tells it: the height of the
one electron that draws the line there (`drawing`), without spread. In gas and on an end face that
is the beam's axis. A sheet that the beam grazes is met by each electron of the flat beam at another
place; there it is the electron that leaves the aperture beside the axis, at the z at which the
sheet stands at that x. It is what a reading of the line is compared with in a measurement. The
picture's mean of many electrons scatters about it by less than a tenth of the line's width.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import TOLERANCE, fly_electrons
from glowtrace.beam.obstacles import Obstacles
from glowtrace.bench.model import Bench
from glowtrace.bench.path import Path, nowhere
from glowtrace.bench.picture import Model, Ray
from glowtrace.constants import REST_ENERGY_VOLTS, SPEED_OF_LIGHT
from glowtrace.fields.interpolation import IDEAL, Field, fields_at

__all__ = [
    "AXIS",
    "Field",
    "Launch",
    "Through",
    "drawing",
    "drawing_turn",
    "fields_at",
    "fly_paths",
    "fly_ray",
    "launched",
    "momentum",
]

Array = NDArray[np.float64]
Through = Literal["nothing", "sheet", "screen", "walls"]
"""What does not stop an electron. "nothing": everything stops it that stands in the tube. "sheet":
it flies through a sheet that the beam grazes, and so along the whole line. "screen": through any
screen. "walls": through all that stands in the tube, to the border of the fields that are known."""

SPACING = 5e-4
"""Distance in m between the points of a path."""
_FIRST_STATIONS = 400
"""Points of a ray's first flight, which tells only how long its path is."""
_SHORTEST = 1e-6
"""Distance in m between two points of a path, at least."""
_TWICE = 1e-6
"""Part of the longest step below which two points count as one."""


@dataclass(frozen=True)
class Launch:
    """How an electron leaves the aperture, at x = 0."""

    y: float = 0.0
    """m."""
    z: float = 0.0
    """m."""
    up: float = 0.0
    """Angle in rad to the axis, in the x-y plane."""
    aside: float = 0.0
    """The same in the x-z plane."""

    def then(self, more: Launch) -> Launch:
        """Give the launch that another one is where this one counts as the axis."""
        return Launch(self.y + more.y, self.z + more.z, self.up + more.up, self.aside + more.aside)


AXIS = Launch()


def drawing(bench: Bench, x: float) -> Launch:
    """Give the launch of the electron that draws the line at x in m; see the module.

    As parallel to the axis as the aperture allows: electrons that come slanting from either side
    make up for each other.
    """
    plane, half = bench.plane, bench.gun.aperture_width / 2
    if not plane.is_line:
        return AXIS
    there = float(plane.place_in_space(np.array([[plane.u_of(x), 0.0]]))[0, 2])
    z = min(max(there, -half), half)
    return Launch(z=z, aside=math.atan((there - z) / x) if x > 0.0 else 0.0)


def drawing_turn(bench: Bench, fly: Callable[[Launch], Path]) -> Path:
    """Give the path of the electron that draws the first turning point of the line.

    Where that lies is first seen from the axis. Without a turning point it is the axis itself.
    """
    axis = fly(AXIS)
    turns = axis.turning_points()
    launch = drawing(bench, turns[0].x) if turns else AXIS
    return axis if launch == AXIS else fly(launch)


def momentum(voltage: float, *, mass_grows: bool = True) -> float:
    """Gamma v in m/s of an electron that has passed a voltage in V from rest.

    With the energy ratio k = V / (m c^2 / e) it is c sqrt(k (k + 2)); where the mass does not grow
    with speed, the speed c sqrt(2 k).
    """
    ratio = voltage / REST_ENERGY_VOLTS
    return SPEED_OF_LIGHT * math.sqrt(ratio * ((ratio if mass_grows else 0.0) + 2.0))


def launched(
    field: Field, voltage: float, launches: Sequence[Launch], *, mass_grows: bool = True
) -> Array | None:
    """Give position in m and gamma v in m/s (n, 6) of electrons behind the aperture.

    An electron has the energy of the potential at its own starting point: a field that reaches
    through to the aperture has already done its work there. None where any of them is kept in the
    gun.

    Parameters
    ----------
    field
        What they fly into.
    voltage
        Accelerating voltage in V.
    launches
        How each leaves.
    mass_grows
        Whether a fast electron is harder to turn; without it, gamma is 1.
    """
    if voltage <= 0.0:
        return None
    states = np.zeros((len(launches), 6))
    for state, launch in zip(states, launches, strict=True):
        state[1:3] = launch.y, launch.z
        state[3:] = 1.0, math.tan(launch.up), math.tan(launch.aside)
    energies = np.full(len(launches), voltage)
    if field.kind != IDEAL:
        energies += fields_at(field, states[:, :3])[2]
    if not np.all(energies > 0.0):
        return None
    sizes = np.array([momentum(each, mass_grows=mass_grows) for each in energies.tolist()])
    states[:, 3:] *= (sizes / np.linalg.norm(states[:, 3:], axis=1))[:, None]
    return states


def fly_paths(
    field: Field,
    walls: Obstacles,
    end_names: tuple[str, ...],
    states: Array | None,
    *,
    longest: float,
    spacing: float = SPACING,
    stations: int | None = None,
    tolerance: float = TOLERANCE,
) -> tuple[Path, ...]:
    """Fly electrons to their ends.

    Parameters
    ----------
    field, walls, end_names
        What they fly through, what they can end on, and the names of that by their code.
    states
        (n, 6) as `launched` gives them; None where none leaves the gun.
    longest
        Length of path in m after which an electron is given up.
    spacing
        Distance in m between the points of a path.
    stations
        Points that a path can have; as many as fit into ``longest`` when left out.
    tolerance
        Error of position in m allowed per step.

    Returns
    -------
    tuple[Path, ...]
        One for each electron; a single one without points where none leaves the gun.
    """
    if states is None:
        return (nowhere(),)
    flights = fly_electrons(
        field,
        walls,
        states,
        stations=stations or math.ceil(longest / spacing) + 2,
        station_spacing=spacing,
        longest=longest,
        tolerance=tolerance,
        threads=1,  # to share a few electrons out among threads would take longer than they fly
    )
    return tuple(
        _path(stations, end_names[code])
        for stations, code in zip(flights.paths, flights.ends.tolist(), strict=True)
    )


def fly_ray(
    field: Field,
    walls: Obstacles,
    end_names: tuple[str, ...],
    states: Array | None,
    *,
    model: Model,
    longest: float,
    samples: int,
) -> Ray:
    """Fly one electron to its end, and give the fields that it meets too.

    It flies twice, the first time for the length of its path alone: a few hundred points of one
    electron cost less than finding equal distances among thousands.

    Parameters
    ----------
    field, walls, end_names, states, longest
        As for `fly_paths`; the state of one electron (1, 6).
    model
        Of the fields.
    samples
        Points on the path, at equal distances, 3 or more; the last one is its end.
    """

    def fly(length: float, stations: int) -> Path:
        spacing = max(length / (stations - 2), _SHORTEST)
        return fly_paths(
            field, walls, end_names, states, longest=longest, spacing=spacing, stations=stations
        )[0]

    coarse = fly(longest, _FIRST_STATIONS).position
    path = fly(float(np.linalg.norm(np.diff(coarse, axis=0), axis=1).sum()), samples)
    electric, flux, potential = fields_at(field, path.position)
    return Ray(
        model=model,
        time=path.time,
        position=path.position,
        velocity=path.velocity,
        potential=potential,
        electric_field=electric,
        flux_density=flux,
        end=path.end,
    )


def _path(stations: Array, end: str) -> Path:
    """Give the path from the stations (s, 7) that were written."""
    written = stations[~np.isnan(stations[:, 0])]
    # The end can fall on the last station, and would be there twice.
    steps = np.diff(written[:, 6])
    written = written[np.concatenate([[True], steps > _TWICE * steps.max(initial=0.0)])]
    gamma = np.sqrt(1.0 + (written[:, 3:6] ** 2).sum(axis=1) / SPEED_OF_LIGHT**2)
    return Path(
        time=written[:, 6],
        position=written[:, :3],
        velocity=written[:, 3:6] / gamma[:, None],
        end=end,
    )
