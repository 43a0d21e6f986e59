"""The `bench` model as conditions on readings: electrons traced through the real fields.

**Another e/m with the tracer's own.** The tracer knows the accepted e/m only. Let an electron have
s times as much. In its proper time its motion is

    du/dtau = -s (e/m) (gamma E + u x B),    gamma - 1 = s (e/m) V / c^2  behind the gun,

so in both equations s stands beside a voltage or a field and nowhere else. An electron of the
accepted e/m in fields, and behind a gun, of s times the strength therefore flies the very same
path, relativity included: all voltages, the coil current and Earth's field are multiplied by s.
(Slow electrons know only the ratio V / B^2, so there B times sqrt(s) alone would do.)

The trace is that of the beam's axis; its spread widens the trace but moves its middle very little.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import fly_electrons, starts_inside
from glowtrace.beam.obstacles import SCREEN, Obstacles
from glowtrace.beam.source import emit, sequence_shifts, thread
from glowtrace.bench.layout import bench_obstacles
from glowtrace.bench.model import EndFace
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.fields.interpolation import Field, fields_at
from glowtrace.measure.methods import Method
from glowtrace.measure.textbook_conditions import height_on_axis
from glowtrace.measure.tube import Readings, Tube, nominal_tube

Array = NDArray[np.float64]

_SPACING = 5e-4
"""Distance in m between the points kept of a path."""
_LONGEST = 0.6
_STATIONS = math.ceil(_LONGEST / _SPACING)


@dataclass(frozen=True, eq=False)
class TracedPath:
    """A traced path at equal distances: points and directions, (t, 3) each."""

    points: Array
    directions: Array
    momenta: Array
    """gamma v in m/s."""

    def normal_distance(self, x: float, y: float) -> float:
        """Signed distance in m of a point of the picture from the path, positive to its left."""
        offset = np.array([x, y]) - self.points[:, :2]
        nearest = int(np.argmin((offset**2).sum(axis=1)))
        tangent, bend = self._local(nearest)
        along = float(offset[nearest] @ tangent)
        foot = tangent * along + bend * along**2 / 2
        slope = tangent + bend * along
        away = offset[nearest] - foot
        return float((slope[0] * away[1] - slope[1] * away[0]) / np.hypot(*slope))

    def height(self, x: float) -> float:
        """Height y in m where the path first comes to x; NaN if it never does."""
        ahead = np.flatnonzero(self.points[:, 0] >= x)
        if not len(ahead):
            return math.nan
        before = max(int(ahead[0]) - 1, 0)
        tangent, bend = self._local(before)
        gap = x - self.points[before, 0]
        along = gap / tangent[0]
        along -= (tangent[0] * along + bend[0] * along**2 / 2 - gap) / (
            tangent[0] + bend[0] * along
        )
        return float(self.points[before, 1] + tangent[1] * along + bend[1] * along**2 / 2)

    def far_height(self) -> tuple[float, int]:
        """Height y in m of the first point where the path runs level again, and its place."""
        rising = self.directions[1:, 1]
        turn = np.flatnonzero(rising[1:] * rising[:-1] < 0) + 1
        if not len(turn):
            return math.nan, len(rising)
        before = int(turn[0])
        tangent, bend = self._local(before)
        along = -tangent[1] / bend[1]
        return float(self.points[before, 1] + tangent[1] * along / 2), before

    def return_to_axis(self, after: int) -> float:
        """Way x in m at which the path is back at the height of its start; NaN if it never is."""
        y = self.points[after:, 1]
        crossing = np.flatnonzero(y[1:] * y[:-1] <= 0)
        if not len(crossing):
            return math.nan
        before = after + int(crossing[0])
        tangent, bend = self._local(before)
        gap = -self.points[before, 1]
        along = gap / tangent[1]
        along -= (tangent[1] * along + bend[1] * along**2 / 2 - gap) / (
            tangent[1] + bend[1] * along
        )
        return float(self.points[before, 0] + tangent[0] * along + bend[0] * along**2 / 2)

    def _local(self, n: int) -> tuple[Array, Array]:
        """Direction (2,) and curvature (2,) in the picture plane at a point of the path."""
        low, high = max(n - 1, 0), min(n + 1, len(self.points) - 1)
        turn = self.directions[high, :2] - self.directions[low, :2]
        return self.directions[n, :2], turn / (max(high - low, 1) * _SPACING)


@dataclass(frozen=True, eq=False)
class Tracer:
    """Traces the axis of a bench's beam for a tube that differs a little from the drawing."""

    prepared: PreparedBench
    walls: Obstacles = field(init=False)
    nominal: Tube = field(init=False)
    uses_uniform_coils: bool = False
    """Whether the coils' field is that of their centre everywhere."""

    def __post_init__(self) -> None:
        # The axis crosses a grazed sheet somewhere, where other rays still show the trace beyond.
        walls = bench_obstacles(self.prepared.bench)[0]
        unscreened = walls._replace(flat=walls.flat[walls.flat[:, -1] != SCREEN])
        object.__setattr__(self, "walls", unscreened)
        object.__setattr__(self, "nominal", nominal_tube(self.prepared.bench, "bench"))

    def strengths(self, tube: Tube) -> tuple[float, float, float]:
        """Factors on all fields (another e/m), on the plates' field and on the coils' field."""
        nominal = self.nominal
        plates = nominal.plate_gap / tube.plate_gap if math.isfinite(nominal.plate_gap) else 1.0
        coils = tube.coil_constant / nominal.coil_constant if nominal.coil_constant else 1.0
        return tube.specific_charge / SPECIFIC_CHARGE, plates, coils

    def field(self, tube: Tube, plate_voltage: float, coil_current: float) -> Field:
        """Fields that give the tube's electron the path that the accepted one has in them."""
        charge, plates, coils = self.strengths(tube)
        across = charge * plates * (plate_voltage + tube.plate_offset)
        upper = {"symmetric": across / 2, "lower at anode": across, "upper at anode": 0.0}
        voltages = (upper[tube.plate_tie], upper[tube.plate_tie] - across)
        maps = self.prepared.fields
        current = charge * coils * (coil_current + tube.current_offset)
        uniform = charge * tube.earth
        if self.uses_uniform_coils:
            axis = 0 if self.prepared.bench.screen.kind == "end face" else 2
            uniform[axis] += self.nominal.coil_constant * current
            current = 0.0
        return maps.field(voltages[: len(maps.names)], current, uniform)

    def path(
        self, tube: Tube, voltage: float, plate_voltage: float, current: float, angle: float = 0.0
    ) -> TracedPath:
        """Trace the beam's axis, or a ray that leaves it at an angle in rad upwards."""
        field_of_tube = self.field(tube, plate_voltage, current)
        accelerating = tube.specific_charge / SPECIFIC_CHARGE * (voltage + tube.contact_offset)
        source = thread(self.prepared.source(Settings(accelerating_voltage=accelerating)))
        start = np.zeros(6)
        inside = starts_inside(field_of_tube)
        leaves, _, _ = emit(source, sequence_shifts(0), 0, field_of_tube, inside, start)
        if not leaves:
            return TracedPath(np.zeros((1, 3)), np.zeros((1, 3)), np.zeros((1, 3)))
        momentum = float(np.linalg.norm(start[3:]))
        start[3:] = momentum * math.cos(angle), momentum * math.sin(angle), 0.0
        flight = fly_electrons(
            field_of_tube, self.walls, start[None], stations=_STATIONS, station_spacing=_SPACING,
            longest=_LONGEST, threads=1,
        )  # fmt: skip
        stations = flight.paths[0]
        stations = stations[~np.isnan(stations[:, 0])]
        momenta = stations[:, 3:6]
        directions = momenta / np.linalg.norm(momenta, axis=1)[:, None]
        return TracedPath(stations[:, :3], directions, momenta)

    def turns(self, tube: Tube, voltage: float, current: float, length: float) -> float:
        """Turns that diverging rays have made at a distance along a long coil; whole at a focus.

        Followed is one ray that stands for the cone of the gun: its distance r from the axis,
        in the frame that turns with half the local gyration, is zero at each focus. Between them
        the phase of (k r, dr/dx) counts on.
        """
        gun = self.prepared.bench.gun
        angle = cone_angle(gun.divergence_vertical, gun.divergence_sideways) or 1e-3
        ray = self.path(tube, voltage, 0.0, current, angle)
        axis = self.path(tube, voltage, 0.0, current)
        count = min(len(ray.points), len(axis.points))
        x = ray.points[:count, 0]
        middle = np.stack(
            [np.interp(x, axis.points[:, 0], axis.points[:, n]) for n in (1, 2)], axis=1
        )
        drift = np.stack(
            [
                np.interp(x, axis.points[:, 0], axis.momenta[:, n] / axis.momenta[:, 0])
                for n in (1, 2)
            ],
            axis=1,
        )
        away = ray.points[:count, 1:] - middle
        slope = ray.momenta[:count, 1:] / ray.momenta[:count, :1] - drift
        _, flux, _ = fields_at(self.field(tube, 0.0, current), ray.points[:count])
        rate = SPECIFIC_CHARGE * flux[:, 0] / (2 * ray.momenta[:count, 0])
        turned = np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2 * np.diff(x))])
        # A positive B_x turns an electron from y towards z.
        turning = np.exp(-1j * turned)
        offset = (away[:, 0] + 1j * away[:, 1]) * turning
        change = (slope[:, 0] + 1j * slope[:, 1]) * turning - 1j * rate * offset
        wave = abs(turned[-1]) / max(x[-1], 1e-9) or 1.0
        phase = np.unwrap(np.arctan2(wave * offset.real, change.real))
        return float(np.interp(length, x, phase - phase[0], right=math.nan)) / math.pi


def cone_angle(vertical: float, sideways: float) -> float:
    """Angle in rad of the one ray that has its focus where a cone of rays has the smallest spot.

    Rays at the angle a meet earlier by a share a^2/2. The smallest mean square distance from the
    axis, for directions spread evenly within both half-angles, lies at a^2 = <a^4> / <a^2>.
    """
    squares = vertical**2 / 3 + sideways**2 / 3
    fourths = vertical**4 / 5 + sideways**4 / 5 + 2 * vertical**2 * sideways**2 / 9
    return math.sqrt(fourths / squares) if squares > 0 else 0.0


def _points_of_the_trace(tracer: Tracer, tube: Tube, readings: Readings) -> Array:
    x, y = readings["x"], height_on_axis(tube, readings)
    nothing = np.zeros_like(x)
    knobs = np.stack(
        [
            readings["accelerating_voltage"],
            readings.get("plate_voltage", nothing),
            readings.get("coil_current", nothing),
        ],
        axis=1,
    )
    at_end = isinstance(tracer.prepared.bench.screen, EndFace)
    misfits = np.empty((len(x), 1))
    path, of_path = None, None
    for n, knob in enumerate(knobs):
        if path is None or of_path != tuple(knob):
            path, of_path = tracer.path(tube, *knob), tuple(knob)
        misfits[n] = y[n] - path.height(x[n]) if at_end else path.normal_distance(x[n], y[n])
    return misfits


def _null(tracer: Tracer, tube: Tube, readings: Readings) -> Array:
    end = tube.plate_start + tube.plate_length
    x = np.where(np.isnan(readings["x"]), end, readings["x"])
    return _points_of_the_trace(tracer, tube, {**readings, "x": x})


def _circle(tracer: Tracer, tube: Tube, readings: Readings) -> Array:
    misfits = np.empty((len(readings["diameter"]), 1))
    rows = zip(readings["accelerating_voltage"], readings["coil_current"], strict=True)
    for n, (voltage, current) in enumerate(rows):
        top, _ = tracer.path(tube, voltage, 0.0, current).far_height()
        misfits[n] = readings["diameter"][n] - abs(top)
    return misfits


def _axial_focus(tracer: Tracer, tube: Tube, readings: Readings) -> Array:
    length, turns = readings["length"], readings["turns"]
    misfits = np.empty((len(length), 1))
    rows = zip(readings["accelerating_voltage"], readings["coil_current"], strict=True)
    for n, (voltage, current) in enumerate(rows):
        made = tracer.turns(tube, voltage, current, length[n])
        misfits[n] = length[n] * (made / turns[n] - 1.0)
    return misfits


def _turn_back(tracer: Tracer, tube: Tube, readings: Readings) -> Array:
    misfits = np.empty((len(readings["depth"]), 2))
    columns = ("accelerating_voltage", "plate_voltage", "coil_current")
    for n, knobs in enumerate(zip(*(readings[name] for name in columns), strict=True)):
        path = tracer.path(tube, *knobs)
        depth, place = path.far_height()
        misfits[n, 0] = readings["depth"][n] - depth
        misfits[n, 1] = readings["pitch"][n] - path.return_to_axis(place)
    return misfits


TRACED_CONDITIONS: Final = MappingProxyType[Method, Callable[[Tracer, Tube, Readings], Array]](
    {
        "plates only": _points_of_the_trace,
        "coils only": _points_of_the_trace,
        "null": _null,
        "circle": _circle,
        "axial focus": _axial_focus,
        "turn-back": _turn_back,
    }
)
"""The conditions of each method, (r, c) in m."""
