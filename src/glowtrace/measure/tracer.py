"""Electrons traced through the real fields of a tube that differs a little from its drawing.

**Another e/m with the tracer's own.** The tracer knows the accepted e/m only. Let an electron have
s times as much. In its proper time its motion is

    du/dtau = -s (e/m) (gamma E + u x B),    gamma - 1 = s (e/m) V / c^2  behind the gun,

so in both equations s stands beside a voltage or a field and nowhere else. An electron of the
accepted e/m in fields, and behind a gun, of s times the strength therefore flies the very same
path, relativity included: all voltages, the coil current and Earth's field are multiplied by s.
(Slow electrons know only the ratio V / B^2, so there B times sqrt(s) alone would do.)

The trace is that of the beam's axis, and beside a grazed sheet that of the ray which meets the
sheet; the spread of the beam widens the trace but moves its middle very little.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import fly_electrons
from glowtrace.beam.obstacles import SCREEN, Obstacles
from glowtrace.bench.layout import bench_obstacles
from glowtrace.bench.model import Sheet
from glowtrace.bench.prepared import PreparedBench
from glowtrace.constants import REST_ENERGY_VOLTS, SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.fields.interpolation import Field, fields_at
from glowtrace.measure.tube import Tube, nominal_tube

Array = NDArray[np.float64]

_SPACING = 5e-4
"""Distance in m between the points kept of a path."""
_LONGEST = 0.6
_STATIONS = math.ceil(_LONGEST / _SPACING)
_NEWTON = 5
"""Steps of Newton's method on a cubic between two stations."""


class _Cubic(NamedTuple):
    """A coordinate between two stations: a polynomial of the part of the time that has passed."""

    a: float
    b: float
    c: float
    d: float

    def place(self, s: float) -> float:
        return self.a + s * (self.b + s * (self.c + s * self.d))

    def slope(self, s: float) -> float:
        return self.b + s * (2 * self.c + 3 * s * self.d)

    def bend(self, s: float) -> float:
        return 2 * self.c + 6 * s * self.d


@dataclass(frozen=True, eq=False)
class TracedPath:
    """A traced path at t stations; between two of them it is a cubic in time.

    In time and not along the path, because an electron that comes nearly to rest draws a corner.
    """

    points: Array
    """(t, 3) m; NaN for a beam that never leaves."""
    momenta: Array
    """(t, 3) gamma v in m/s."""
    times: Array
    """(t,) s."""

    def normal_distance(self, x: float, y: float) -> float:
        """Signed distance in m of a point of the picture from the path, positive to its left."""
        if len(self.points) < 2:
            return math.nan
        away = self.points[:, :2] - np.array([x, y])
        nearest = int(np.argmin((away**2).sum(axis=1)))
        part, (along, up) = self._cubics(nearest)
        # Newton's method on plain numbers: this is called for every point of every trial fit.
        for _ in range(_NEWTON):
            off = x - along.place(part), y - up.place(part)
            slope = along.slope(part), up.slope(part)
            bend = off[0] * along.bend(part) + off[1] * up.bend(part)
            part += (off[0] * slope[0] + off[1] * slope[1]) / (slope[0] ** 2 + slope[1] ** 2 - bend)
        off = x - along.place(part), y - up.place(part)
        slope = along.slope(part), up.slope(part)
        return (slope[0] * off[1] - slope[1] * off[0]) / math.hypot(*slope)

    def height(self, x: float) -> float:
        """Height y in m where the path first comes to x; NaN if it never does."""
        ahead = np.flatnonzero(self.points[:, 0] >= x)
        if not len(ahead):
            return math.nan
        before = max(int(ahead[0]) - 1, 0)
        return float(self._where(before, 0, x)[1])

    def far_height(self) -> tuple[float, int]:
        """Height y in m of the first point where the path runs level again, and its station."""
        rising = self.momenta[1:, 1]
        turn = np.flatnonzero(rising[1:] * rising[:-1] < 0) + 1
        if not len(turn):
            return math.nan, len(rising)
        before = int(turn[0])
        part = 0.5
        for _ in range(_NEWTON):
            _, slope, bend = self._between(before, part)
            part -= float(slope[1] / bend[1])
        return float(self._between(before, part)[0][1]), before

    def return_to_axis(self, after: int) -> float:
        """Way x in m at which the path is back at the height of its start; NaN if it never is."""
        y = self.points[after:, 1]
        crossing = np.flatnonzero(y[1:] * y[:-1] <= 0)
        if not len(crossing):
            return math.nan
        return float(self._where(after + int(crossing[0]), 1, 0.0)[0])

    def _where(self, before: int, axis: int, value: float) -> Array:
        """Point (2,) behind a station where one coordinate has a value."""
        part = 0.5
        for _ in range(_NEWTON):
            place, slope, _ = self._between(before, part)
            part -= float((place[axis] - value) / slope[axis])
        return self._between(before, part)[0]

    def _between(self, station: int, part: float) -> tuple[Array, Array, Array]:
        """Place (2,) after a part of the time from a station to the next, and two derivatives."""
        if len(self.points) < 2:
            nowhere = np.full(2, math.nan)
            return nowhere, nowhere, nowhere
        before, cubics = self._cubics(station)
        s = part + before
        return (
            np.array([each.place(s) for each in cubics]),
            np.array([each.slope(s) for each in cubics]),
            np.array([each.bend(s) for each in cubics]),
        )

    def _cubics(self, station: int) -> tuple[float, tuple[_Cubic, _Cubic]]:
        """Part of the time that stands for a station, and the cubics of x and y from it on."""
        n = min(station, len(self.points) - 2)
        pair, momenta = self.points[n : n + 2, :2], self.momenta[n : n + 2]
        gamma = np.sqrt(1.0 + (momenta**2).sum(axis=1) / SPEED_OF_LIGHT**2)
        pace = momenta[:, :2] / gamma[:, None] * (self.times[n + 1] - self.times[n])
        # Cubic with these places and paces at both ends
        way = pair[1] - pair[0]
        square, cube = 3 * way - 2 * pace[0] - pace[1], pace[0] + pace[1] - 2 * way
        terms = np.stack([pair[0], pace[0], square, cube]).T.tolist()
        return float(station - n), (_Cubic(*terms[0]), _Cubic(*terms[1]))


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
        self,
        tube: Tube,
        voltage: float,
        plate_voltage: float,
        current: float,
        *,
        angle: float = 0.0,
        lit_at: float | None = None,
    ) -> TracedPath:
        """Trace the beam's axis, a ray at an angle to it, or the ray that lights up the screen.

        Parameters
        ----------
        tube
            Constants, e/m among them.
        voltage, plate_voltage, current
            Accelerating voltage in V, V_p in V and coil current in A, signed.
        angle
            In rad upwards from the axis.
        lit_at
            x in m at which the screen is to be met: beside a sheet that the beam grazes another
            ray of the flat beam does that at each x. Of no account for other screens.
        """
        rays = np.array([[*((0.0, 0.0) if lit_at is None else self._lighting_ray(lit_at)), angle]])
        return self._flown(tube, voltage, plate_voltage, current, rays)[0]

    def paths(
        self, tube: Tube, voltage: float, plate_voltage: float, current: float, lit_at: Array
    ) -> tuple[TracedPath, ...]:
        """Trace, in one setting, the rays that meet the screen at places (n,); see `path`."""
        rays = np.array([[*self._lighting_ray(float(x)), 0.0] for x in lit_at])
        return self._flown(tube, voltage, plate_voltage, current, rays)

    def _flown(
        self, tube: Tube, voltage: float, plate_voltage: float, current: float, rays: Array
    ) -> tuple[TracedPath, ...]:
        """Trace rays (n, 3): z in m at the aperture, slope sideways, angle upwards in rad."""
        field_of_tube = self.field(tube, plate_voltage, current)
        z, aside, angle = rays.T
        start = np.zeros((len(rays), 6))
        start[:, 2] = z
        _, _, potential = fields_at(field_of_tube, start[:, :3])
        accelerating = tube.specific_charge / SPECIFIC_CHARGE * (voltage + tube.contact_offset)
        energy = (accelerating + potential) / REST_ENERGY_VOLTS
        if np.any(energy <= 0):
            nowhere = np.full((1, 3), np.nan)
            return (TracedPath(nowhere, nowhere, nowhere[:, 0]),) * len(rays)
        momentum = SPEED_OF_LIGHT * np.sqrt(energy * (energy + 2))
        forward = momentum / np.sqrt(1 + np.tan(angle) ** 2 + aside**2)
        start[:, 3:] = np.stack([forward, forward * np.tan(angle), forward * aside], axis=1)
        flight = fly_electrons(
            field_of_tube, self.walls, start, stations=_STATIONS, station_spacing=_SPACING,
            longest=_LONGEST, threads=1,
        )  # fmt: skip
        made = []
        for stations in flight.paths:
            kept = stations[~np.isnan(stations[:, 0])]
            made.append(TracedPath(kept[:, :3], kept[:, 3:6], kept[:, 6]))
        return tuple(made)

    def _lighting_ray(self, x: float) -> tuple[float, float]:
        """Z in m at the aperture, and slope sideways, of the ray that meets a sheet at x.

        As parallel to the axis as the aperture allows: rays that come slanting from either side
        make up for each other.
        """
        screen, half = self.prepared.bench.screen, self.prepared.bench.gun.aperture_width / 2
        if not isinstance(screen, Sheet):
            return 0.0, 0.0
        there = screen.z_from + (x - screen.x_from) * math.tan(screen.angle)
        start = min(max(there, -half), half)
        return start, (there - start) / x if x > 0 else 0.0

    def turns(self, tube: Tube, voltage: float, current: float, length: float) -> float:
        """Turns that diverging rays have made at a distance along a long coil; whole at a focus.

        Followed is one ray that stands for the cone of the gun: its distance r from the axis,
        in the frame that turns with half the local gyration, is zero at each focus. Between them
        the phase of (k r, dr/dx) counts on.
        """
        gun = self.prepared.bench.gun
        angle = cone_angle(gun.divergence_vertical, gun.divergence_sideways) or 1e-3
        ray = self.path(tube, voltage, 0.0, current, angle=angle)
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
