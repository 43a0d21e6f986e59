"""The path of one electron, and what is read off it: heights, turning points, circles, turns.

**One rule of interpolation.** Between two points each coordinate is the cubic in time that has the
places and the velocities of both. In time and not along the path, because an electron that comes
nearly to rest draws a corner. Points half a millimetre apart give places to better than 0.1 um.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline

from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT

Array = NDArray[np.float64]

_NEWTON = 5
"""Steps of Newton's method towards the nearest point of a cubic."""
_MOST_STEPS = 60
_PART_ERROR = 1e-13
"""Part of the time between two points to which a crossing is found."""
_FEW = 8
"""Points that an arc needs to be fitted with a circle."""
_REACHED = 1e-9
"""Distance in m before a place at which a path that ends there has reached it."""


class _Cubic(NamedTuple):
    """A coordinate between two points: a polynomial of the part of the time that has passed."""

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

    def slope_as_cubic(self) -> _Cubic:
        return _Cubic(self.b, 2 * self.c, 3 * self.d, 0.0)


class Turn(NamedTuple):
    """A point of a path at which it runs level: its height stops rising, or falling."""

    at: float
    """Place among the points of the path: 2.5 lies half way in time from point 2 to point 3."""
    x: float
    """m."""
    y: float
    """m."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Path:
    """The path of one electron at t points; none where it never leaves the gun."""

    time: Array
    """(t,) s."""
    position: Array
    """(t, 3) m."""
    velocity: Array
    """(t, 3) m/s."""
    end: str
    """What the electron ended on."""

    def __repr__(self) -> str:
        return f"{type(self).__name__}: {len(self.time)} points, ended on {self.end}"

    def point(self, at: float) -> Array:
        """Position (3,) in m at a place among the points: 2.5 is half way in time from 2 to 3."""
        before = self._before(at)
        return np.array([each.place(at - before) for each in self._cubics(before, 3)])

    def place_of(self, x: float, axis: int = 0, after: int = 0) -> float | None:
        """Place among the points where a coordinate first has a value; None where it never has.

        Parameters
        ----------
        x
            The value in m.
        axis
            0, 1 or 2 for x, y or z.
        after
            Point from which on it is looked for.
        """
        off = self.position[after:, axis] - x
        if len(off) == 0:
            return None
        if off[0] == 0.0:
            return float(after)
        crossed = np.flatnonzero((off[1:] >= 0.0) != (off[0] >= 0.0))
        if len(crossed) == 0:
            return float(len(self.time) - 1) if abs(off[-1]) <= _REACHED else None
        before = after + int(crossed[0])
        return before + _root(self._cubics(before, 3)[axis], x)

    def height_at(self, x: float) -> float:
        """Height y in m where the path first comes to x in m; NaN if it never does."""
        at = self.place_of(x)
        return math.nan if at is None else float(self.point(at)[1])

    def turning_points(self) -> tuple[Turn, ...]:
        """Give the points at which the path runs level, in the order of flight.

        The start is none, though an electron may leave level.
        """
        rises = self.velocity[:, 1]
        found = []
        for n in (np.flatnonzero(rises[1:-1] * rises[2:] < 0) + 1).tolist():
            along, up = self._cubics(n, 2)
            s = _root(up.slope_as_cubic(), 0.0)
            found.append(Turn(n + s, along.place(s), up.place(s)))
        return tuple(found)

    def far_height(self) -> float:
        """Height y in m of the first turning point, NaN without one: the diameter of a circle.

        Signed: a path that turns below the axis has a negative one.
        """
        turns = self.turning_points()
        return turns[0].y if turns else math.nan

    def circle_height(self) -> float:
        """Height in m over the start of the far side of a circle, NaN without one; signed.

        An electron that leaves a little away from its circle's middle runs level twice, the first
        time close to the start: the farther of the first two turning points counts.
        """
        start = float(self.position[0, 1]) if len(self.position) else math.nan
        heights = [turn.y - start for turn in self.turning_points()[:2]]
        return max(heights, key=abs, default=math.nan)

    def circle_radius(self) -> float:
        """Radius in m of the circle that the path is: half its diameter, `far_height`.

        An arc that does not come so far is fitted with a circle; NaN where it is too short.
        """
        height = self.far_height()
        if not math.isnan(height):
            return abs(height) / 2
        if len(self.time) < _FEW:
            return math.nan
        x, y, _ = self.position.T
        terms = np.stack([2 * x, 2 * y, np.ones_like(x)], axis=1)
        (a, b, c), *_ = np.linalg.lstsq(terms, x**2 + y**2, rcond=None)
        return math.sqrt(c + a**2 + b**2)

    def back_on_axis(self) -> float:
        """X in m at which the path is first back at the height of the axis after it has turned.

        NaN if it never is.
        """
        turns = self.turning_points()
        if not turns:
            return math.nan
        at = self.place_of(0.0, axis=1, after=int(turns[0].at))
        return math.nan if at is None else float(self.point(at)[0])

    def until(self, x: float) -> Path | None:
        """Give the path up to where it first comes to x in m; None where it never does."""
        at = self.place_of(x)
        if at is None:
            return None
        before = self._before(at)
        s, cubics = at - before, self._cubics(before, 3)
        pair = self.time[before : before + 2]
        step = float(pair[1] - pair[0])
        kept = before + 1
        return Path(
            time=np.append(self.time[:kept], pair[0] + s * step),
            position=np.vstack([self.position[:kept], [each.place(s) for each in cubics]]),
            velocity=np.vstack([self.velocity[:kept], [each.slope(s) / step for each in cubics]]),
            end="came there",
        )

    def normal_distance(self, x: float, y: float) -> float:
        """Signed distance in m of a point of the x-y plane from the path, positive to its left."""
        if len(self.position) < 2:
            return math.nan
        away = self.position[:, :2] - np.array([x, y])
        nearest = int(np.argmin((away**2).sum(axis=1)))
        before = self._before(nearest)
        along, up = self._cubics(before, 2)
        part = float(nearest - before)
        # Newton's method on plain numbers: this is called for every point of every trial fit.
        for _ in range(_NEWTON):
            off = x - along.place(part), y - up.place(part)
            slope = along.slope(part), up.slope(part)
            bend = off[0] * along.bend(part) + off[1] * up.bend(part)
            part += (off[0] * slope[0] + off[1] * slope[1]) / (slope[0] ** 2 + slope[1] ** 2 - bend)
        off = x - along.place(part), y - up.place(part)
        slope = along.slope(part), up.slope(part)
        return (slope[0] * off[1] - slope[1] * off[0]) / math.hypot(*slope)

    def gamma(self) -> Array:
        """Lorentz factors (t,) along the path."""
        square: Array = (self.velocity**2).sum(axis=1)
        return np.asarray(1.0 / np.sqrt(1.0 - square / SPEED_OF_LIGHT**2))

    def _before(self, at: float) -> int:
        """Point before a place, with another behind it."""
        return max(0, min(int(at), len(self.time) - 2))

    def _cubics(self, before: int, count: int) -> list[_Cubic]:
        """Give the cubics of the first ``count`` coordinates from a point to the next."""
        pair = self.position[before : before + 2, :count]
        pace = self.velocity[before : before + 2, :count] * (
            self.time[before + 1] - self.time[before]
        )
        way = pair[1] - pair[0]
        square, cube = 3 * way - 2 * pace[0] - pace[1], pace[0] + pace[1] - 2 * way
        return [_Cubic(*terms) for terms in np.stack([pair[0], pace[0], square, cube]).T.tolist()]


def nowhere() -> Path:
    """Give the path of an electron that never leaves the gun: no points."""
    none = np.zeros((0, 3))
    return Path(time=np.zeros(0), position=none, velocity=none, end="turned back in the gun")


def turns_about_axis(ray: Path, axis: Path, flux: Array, length: float) -> float:
    """Turns that a ray has made about another at a distance along a long coil; whole at a focus.

    The ray's distance r from the axis, in the frame that turns with half the local gyration
    (Larmor's frame), swings through zero; the phase of (k r, dr/dx) counts the turns, also where
    the field is not the same all along.

    Parameters
    ----------
    ray, axis
        The ray that is counted, and the one about which it turns.
    flux
        B_x in T at the ray's points (t,).
    length
        x in m at which the turns are told; NaN where the ray does not come so far.
    """
    count = int((ray.position[:, 0] <= axis.position[-1, 0]).sum()) if len(axis.time) > 1 else 0
    if count < 2:
        return math.nan
    x = ray.position[:count, 0]
    middle = CubicHermiteSpline(
        axis.position[:, 0], axis.position[:, 1:], axis.velocity[:, 1:] / axis.velocity[:, :1]
    )
    away = ray.position[:count, 1:] - middle(x)
    slope = ray.velocity[:count, 1:] / ray.velocity[:count, :1] - middle(x, 1)
    rate = SPECIFIC_CHARGE * flux[:count] / (2 * (ray.gamma() * ray.velocity[:, 0])[:count])
    turned = np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2 * np.diff(x))])
    # A positive B_x turns an electron from y towards z.
    turning = np.exp(-1j * turned)
    offset = (away[:, 0] + 1j * away[:, 1]) * turning
    change = (slope[:, 0] + 1j * slope[:, 1]) * turning - 1j * rate * offset
    wave = abs(turned[-1]) / max(float(x[-1]), 1e-9) or 1.0
    phase = np.unwrap(np.arctan2(wave * offset.real, change.real))
    return float(np.interp(length, x, phase - phase[0], right=math.nan)) / math.pi


def _root(cubic: _Cubic, value: float) -> float:
    """Part of the time, 0 to 1, at which a cubic that passes a value has it.

    Newton's method, halving the interval wherever it would leave it.
    """
    low, high = 0.0, 1.0
    sign = 1.0 if cubic.place(1.0) >= cubic.place(0.0) else -1.0
    s = 0.5
    for _ in range(_MOST_STEPS):
        off = sign * (cubic.place(s) - value)
        low, high = (low, s) if off > 0.0 else (s, high)
        slope = sign * cubic.slope(s)
        wanted = s - off / slope if slope > 0.0 else math.inf
        new = wanted if low <= wanted <= high else 0.5 * (low + high)
        if abs(new - s) <= _PART_ERROR:
            return new
        s = new
    return s
