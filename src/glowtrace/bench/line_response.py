"""How the line at some settings answers to each uncertain number of the bench.

Straight-line (linear) estimates come from one electron and the variational equation along its
path; whole electrons in fields that are linear in the numbers tell whether that is good enough, and
stand in for it where it is not. A displacement is seen across the line: along the normal of its
path in the x-y plane, and for a spot along z and y on the face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.obstacles import Obstacles
from glowtrace.beam.variation import vary_path
from glowtrace.bench.electron import AXIS, Launch, fields_at, fly_paths, launched
from glowtrace.bench.knowledge import moved
from glowtrace.bench.layout import bench_obstacles, electrode_voltages
from glowtrace.bench.model import Bench, EndFace
from glowtrace.bench.number_effects import NumberEffects
from glowtrace.bench.path import Path
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.constants import REST_ENERGY_VOLTS, SPEED_OF_LIGHT
from glowtrace.fields.interpolation import Field

Array = NDArray[np.float64]

_SPACING: Final = 1e-3
"""Distance in m between the stations of the path."""
_LONGEST: Final = 0.5
"""Length of path in m along which changes are followed."""
_OFFSET: Final = 1e-4
"""Distance in m over which the fields' slopes are taken."""
_OFFSETS: Final = np.array(
    [[side * _OFFSET * (axis == j) for j in range(3)] for axis in range(3) for side in (1, -1)]
)
_STRAY: Final = 0.03
"""How much further or less far, in m, along its own path a changed line may cross a normal."""


@dataclass(frozen=True, eq=False)
class Response:
    """The line at some settings, and how far one unit (SI) of each of n numbers moves it.

    Attributes
    ----------
    settings
        Knobs and switches.
    position, velocity
        Of the electron on the axis at k places, (k, 3) in m and m/s.
    slopes
        (n, k, 3) displacement in m for each unit of each number.
    end
        What it ends on.
    """

    settings: Settings
    position: Array
    velocity: Array
    slopes: Array
    end: str

    @cached_property
    def normals(self) -> Array:
        """Unit vectors (k, 2) across the path in the x-y plane, to its left."""
        along = self.velocity[:, :2]
        along = along / np.linalg.norm(along, axis=1)[:, None]
        return np.stack([-along[:, 1], along[:, 0]], axis=1)

    @cached_property
    def across(self) -> Array:
        """Displacements (n, k) along the normals."""
        return np.asarray(np.einsum("nki,ki->nk", self.slopes[:, :, :2], self.normals))

    @cached_property
    def lengths(self) -> Array:
        """Length of path (k,) in m up to each place, in the x-y plane."""
        steps = np.linalg.norm(np.diff(self.position[:, :2], axis=0), axis=1)
        return np.concatenate([[0.0], np.cumsum(steps)])

    def at_x(self, x: float) -> Array | None:
        """Give the change (n, 2) of y and z where the line first comes to x; None without.

        The place stays and the line moves past it: dy = dr_y - (v_y / v_x) dr_x.
        """
        off = self.position[:, 0] - x
        crossed = np.flatnonzero((off[:-1] < 0.0) & (off[1:] >= 0.0))
        if len(crossed) == 0:
            return None
        before = int(crossed[0])
        share = -off[before] / (off[before + 1] - off[before])
        pair, weights = slice(before, before + 2), np.array([1.0 - share, share])
        change = np.einsum("nki,k->ni", self.slopes[:, pair], weights)
        velocity = weights @ self.velocity[pair]
        return np.asarray(change[:, 1:] - change[:, :1] * velocity[1:] / velocity[0])

    def at_turn(self) -> Array | None:
        """Give the change (n,) of the first turning point's height over the start; None without.

        That is the diameter of a circle: where beam and grid begin does not count.
        """
        rising = self.velocity[:, 1]
        turned = np.flatnonzero(rising[1:-1] * rising[2:] < 0.0) + 1
        if len(turned) == 0:
            return None
        before = int(turned[0])
        share = rising[before] / (rising[before] - rising[before + 1])
        pair = slice(before, before + 2)
        # At the turn the normal is upright; beside it a shift along the path would count as well.
        upright = self.across[:, pair] / self.normals[pair, 1]
        return np.asarray(upright @ [1.0 - share, share] - self.slopes[:, 0, 1])


def line_response(prepared: PreparedBench, effects: NumberEffects, settings: Settings) -> Response:
    """Follow the beam's axis, and how far each number moves it; empty where no beam leaves."""
    field = prepared.field(settings)
    states = launched(field, settings.voltage_on_beam, [AXIS])
    path = _fly(prepared, prepared.bench, field, states)
    return response_along(prepared, effects, settings, field, path)


def response_along(
    prepared: PreparedBench,
    effects: NumberEffects,
    settings: Settings,
    field: Field,
    path: Path,
) -> Response:
    """Give how far each number moves the line along a path that was flown in a field."""
    count = len(path.time) - 1 if len(path.time) else 0
    count -= (count + 1) % 2
    if count < 5:
        nowhere = np.zeros((0, 3))
        return Response(settings, nowhere, nowhere, np.zeros((len(effects.names), 0, 3)), path.end)
    position, velocity = path.position[:count], path.velocity[:count]
    gamma = 1.0 / np.sqrt(1.0 - (velocity**2).sum(axis=1) / SPEED_OF_LIGHT**2)
    states = np.concatenate([position, gamma[:, None] * velocity], axis=1)
    points = position.copy()
    points[:, 0] = np.maximum(points[:, 0], field.lowest[0])
    electric, flux, _ = fields_at(field, points)
    gradients = _gradients(field, points)
    changes = _field_changes(effects, settings, points, electric, flux, field)
    starts = _start_changes(effects, settings, states[0], electric[0])
    slopes = vary_path(states, (electric, flux), gradients, changes, starts, _SPACING)
    _add_screen(prepared.bench, effects, slopes, velocity[::2])
    return Response(settings, position[::2], velocity[::2], slopes, path.end)


def shifted_path(
    prepared: PreparedBench, effects: NumberEffects, settings: Settings, numbers: Array
) -> Path:
    """Fly the beam's axis with the numbers moved by (n,), in fields that are linear in them.

    Obstacles stand where the numbers put them; the reading's own shift (the grid) is not in it.
    """
    field = shifted_field(prepared, effects, settings, numbers)
    voltage = settings.voltage_on_beam * (1.0 + _of(effects, numbers, "slack.accelerating_meter"))
    launch = Launch(
        y=_of(effects, numbers, "slack.beam_height"),
        z=_of(effects, numbers, "slack.beam_aside"),
        up=_of(effects, numbers, "slack.beam_rise"),
        aside=_of(effects, numbers, "slack.beam_turn"),
    )
    bench = prepared.bench
    for name, by in zip(effects.names, numbers.tolist(), strict=True):
        if by and not name.startswith(("slack.", "place.", "supplies.")):
            bench = moved(bench, name, by)
    return _fly(prepared, bench, field, launched(field, voltage, [launch]))


def shifted_field(
    prepared: PreparedBench, effects: NumberEffects, settings: Settings, numbers: Array
) -> Field:
    """Give the fields with the numbers moved by (n,), as far as these are linear in them."""
    plates = 1.0 + _of(effects, numbers, "slack.plate_meter")
    coils = 1.0 + _of(effects, numbers, "slack.coil_meter")
    return effects.fields.field(
        numbers[list(effects.electric)],
        numbers[list(effects.magnetic)],
        [plates * each for each in electrode_voltages(settings)],
        coils * settings.signed_coil_current,
        prepared.earth + numbers @ effects.uniform,
    )


def distances(response: Response, places: NDArray[np.intp], path: Path, lift: float) -> Array:
    """Give how far (j,) in m another path lies off the line along the normals at some places.

    NaN where it does not come by. ``lift`` in m is what the reading adds to its height.
    """
    found = np.full(len(places), math.nan)
    if len(path.time) < 2:
        return found
    points = path.position[:, :2] + np.array([0.0, lift])
    steps = np.diff(points, axis=0)
    lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(steps, axis=1))])
    for n, place in enumerate(places.tolist()):
        normal = response.normals[place]
        away = points - response.position[place, :2]
        along = away[:, 0] * normal[1] - away[:, 1] * normal[0]
        crossed = np.flatnonzero(along[:-1] * along[1:] <= 0.0)
        if len(crossed) == 0:
            continue
        off = np.abs(lengths[crossed] - response.lengths[place])
        at = int(crossed[int(np.argmin(off))])
        if off.min() > _STRAY:
            continue
        share = along[at] / (along[at] - along[at + 1]) if along[at] != along[at + 1] else 0.0
        found[n] = (away[at] + share * steps[at]) @ normal
    return found


def _fly(prepared: PreparedBench, bench: Bench, field: Field, states: Array | None) -> Path:
    walls = _walls(prepared, bench)
    longest = min(prepared.longest, _LONGEST)
    return fly_paths(
        field, walls, prepared.end_names, states, longest=longest, spacing=_SPACING,
    )[0]  # fmt: skip


def _walls(prepared: PreparedBench, bench: Bench) -> Obstacles:
    if bench is prepared.bench:
        return prepared.walls_but("screen")
    return bench_obstacles(bench, has_screen=False)[0]


def _of(effects: NumberEffects, numbers: Array, name: str) -> float:
    place = effects.moves(name)
    return 0.0 if place is None else float(numbers[place])


def _gradients(field: Field, points: Array) -> tuple[Array, Array]:
    """Give the slopes of E and B (s, 3, 3): [s, j] along coordinate j."""
    around = points[None] + _OFFSETS[:, None]
    around[:, :, 0] = np.maximum(around[:, :, 0], field.lowest[0])
    electric, flux, _ = fields_at(field, around.reshape(-1, 3))
    shape = (3, 2, len(points), 3)
    apart = np.stack([around[2 * j, :, j] - around[2 * j + 1, :, j] for j in range(3)])
    slopes = []
    for values in (electric, flux):
        pairs = values.reshape(shape)
        slopes.append(np.moveaxis((pairs[:, 0] - pairs[:, 1]) / apart[:, :, None], 0, 1))
    return slopes[0], slopes[1]


def _field_changes(
    effects: NumberEffects,
    settings: Settings,
    points: Array,
    electric: Array,
    flux: Array,
    field: Field,
) -> tuple[Array, Array]:
    """Give the changes of E and B (n, s, 3) at fixed places."""
    current = settings.signed_coil_current
    of_electric, of_flux = effects.fields.at(points, electrode_voltages(settings), current)
    count = len(effects.names)
    d_electric, d_flux = np.zeros((count, len(points), 3)), np.zeros((count, len(points), 3))
    d_electric[list(effects.electric)] = of_electric
    d_flux[list(effects.magnetic)] = of_flux
    d_flux += effects.uniform[:, None, :]
    for name, changes, values in (
        ("slack.plate_meter", d_electric, electric),
        ("slack.coil_meter", d_flux, flux - np.array(field.uniform_flux)),
    ):
        place = effects.moves(name)
        if place is not None:
            changes[place] += values
    return d_electric, d_flux


def _start_changes(
    effects: NumberEffects, settings: Settings, first: Array, electric: Array
) -> Array:
    """Give the changes of the first state (n, 6)."""
    starts = np.zeros((len(effects.names), 6))
    u, voltage = first[3:], settings.voltage_on_beam
    size = float(np.linalg.norm(u))
    # gamma v for each relative change of the voltage: (k + 1) / (k + 2) with k = V / (m c^2 / e)
    ratio = voltage / REST_ENERGY_VOLTS
    by_voltage = u * (ratio + 1.0) / (ratio + 2.0)
    for name, axis in (("height", 1), ("aside", 2)):
        place = effects.moves(f"slack.beam_{name}")
        if place is not None:  # where it starts, the potential is another
            starts[place, axis] = 1.0
            starts[place, 3:] = -by_voltage * electric[axis] / voltage
    for name, axis in (("rise", 1), ("turn", 2)):
        place = effects.moves(f"slack.beam_{name}")
        if place is not None:
            starts[place, 3 + axis] = size
    place = effects.moves("slack.accelerating_meter")
    if place is not None:
        starts[place, 3:] = by_voltage
    return starts


def _add_screen(bench: Bench, effects: NumberEffects, slopes: Array, velocity: Array) -> None:
    """Add what moves the reading and not the beam: the printed grid, and the face along x."""
    grid = effects.moves("slack.grid_height")
    if grid is not None:
        slopes[grid, :, 1] += 1.0
    face = effects.moves("screen.x")
    if face is not None and isinstance(bench.screen, EndFace):
        slopes[face, :, 1:] += velocity[:, 1:] / velocity[:, :1]
