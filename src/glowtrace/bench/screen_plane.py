"""The picture plane of a screen: what it shows, where a place in space is seen on it, its lines.

Whoever draws, reads or explains a picture asks the plane; which kind of screen stands on the bench
is known here and where the bench is described alone. Places in the picture are u and v in m, as
the audience reads them off the grid: u along a sheet from x = 0 of the beam, along z on the face at
the end of a tube, along x where gas glows; v upwards.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.parts import EndFace, Envelope, Plates, Screen, Sheet, Sphere

Array = NDArray[np.float64]
Vector = tuple[float, float, float]
Shows = Literal["line", "spot", "path"]
"""A line where electrons land along a sheet; a spot where the beam meets the end of the tube; the
path itself where gas glows along it."""
KINDS: Mapping[Shows, str] = {"line": "sheet", "spot": "end face", "path": "gas glow"}
"""The words of the screens in bench files and records, by what they show."""
_PIXELS_ACROSS = 300
_ON_EDGE = 1e-9
"""Part of the grid's pitch within which a line of the grid lies on an edge."""


@dataclass(frozen=True)
class ScreenPlane:
    """The picture plane of a bench's screen; lengths in m."""

    shows: Shows
    rectangle: tuple[float, float, float, float]
    """(u0, v0, u1, v1)."""
    grid_pitch: float
    """Between the lines of the printed grid."""
    x_from: float
    """From where along the beam the beam is shown; on a face, where it stands."""
    x_to: float
    """Up to where."""
    origin: Vector
    """The point in space at which u = v = 0."""
    along_u: Vector
    """Unit vector of the picture's horizontal direction; the vertical one is y."""
    axis_names: tuple[str, str]
    """What u and v are, in few words."""

    @property
    def kind(self) -> str:
        """The screen's word in bench files and records."""
        return KINDS[self.shows]

    @property
    def is_spot(self) -> bool:
        """Whether the beam ends on it in a spot."""
        return self.shows == "spot"

    @property
    def is_line(self) -> bool:
        """Whether the beam grazes it and draws a line, each electron at another place."""
        return self.shows == "line"

    @property
    def glows(self) -> bool:
        """Whether light comes from all along the path and not from where electrons land."""
        return self.shows == "path"

    @property
    def is_mirrored(self) -> bool:
        """Whether u is drawn from right to left.

        The audience looks at a face from outside, against the beam: z grows to its left.
        """
        return self.is_spot

    @property
    def cosine(self) -> float:
        """Way along the beam for each metre along u; 0 where u lies across the beam."""
        return self.along_u[0]

    @property
    def angle(self) -> float:
        """Angle in rad between the plane and the undeflected beam, without sign."""
        return math.acos(min(1.0, self.cosine))

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """(u0, u1, v0, v1)."""
        u0, v0, u1, v1 = self.rectangle
        return u0, u1, v0, v1

    @property
    def shown_x(self) -> tuple[float, float]:
        """From where to where along the beam, in front of the aperture, the beam is shown."""
        return max(0.0, self.x_from), self.x_to

    @property
    def first_read_x(self) -> float:
        """Where the trace is read until somebody chooses: near the end of a sheet, early in gas."""
        if self.is_spot:
            return self.x_to
        part = 0.8 if self.is_line else 0.6
        return round(self.x_from + part * (self.x_to - self.x_from), 3)

    @property
    def heights(self) -> tuple[float, float]:
        """Lowest and highest y that it shows."""
        return self.rectangle[1], self.rectangle[3]

    @property
    def pixel(self) -> float:
        """Edge length of a pixel of its pictures."""
        return (self.rectangle[2] - self.rectangle[0]) / _PIXELS_ACROSS

    @property
    def image_shape(self) -> tuple[int, int]:
        """Pixels (v, u) of its pictures."""
        u0, v0, u1, v1 = self.rectangle
        return math.ceil((v1 - v0) / self.pixel - 1e-9), math.ceil((u1 - u0) / self.pixel - 1e-9)

    def u_of(self, x: float) -> float:
        """Place u of an x along the beam; on a face, where all is at one x, it is taken as u."""
        return x / self.cosine if self.cosine else x

    def x_of(self, u: float) -> float:
        """Place x along the beam of a u; see `u_of`."""
        return u * self.cosine if self.cosine else u

    def coordinates(self, positions: Array) -> tuple[Array, Array]:
        """Places (u (m,), v (m,)) at which positions (m, 3) in space are seen.

        On a sheet that is where the eye of the audience, looking along z, sees them.
        """
        x, y, z = np.asarray(positions, dtype=float).T
        return (x / self.cosine if self.cosine else z), y

    def place_in_space(self, places: Array) -> Array:
        """Points (n, 3) in space of places (n, 2) in the picture."""
        u, v = np.asarray(places, dtype=float).T
        return np.stack(
            [
                self.origin[0] + u * self.along_u[0],
                self.origin[1] + v,
                self.origin[2] + u * self.along_u[2],
            ],
            axis=1,
        )

    def holds(self, places: Array) -> NDArray[np.bool_]:
        """Tell which places (n, 2) lie in the picture; NaN never does."""
        low, high = np.array(self.rectangle[:2]), np.array(self.rectangle[2:])
        return np.asarray(((places >= low) & (places <= high)).all(axis=1))

    def grid(self, every: int = 1) -> tuple[list[float], list[float]]:
        """Give the u of the grid's upright lines and the v of its level ones, every so many."""
        u0, u1, v0, v1 = self.extent
        pitch = every * self.grid_pitch
        return multiples(u0, u1, pitch), multiples(v0, v1, pitch)

    def plates(self, plates: Plates | None) -> tuple[Array, ...]:
        """Give the upper and the lower plate as they are seen edge on, each (2, 2) as u, v.

        None where there are no plates, or where one looks along the beam.
        """
        if plates is None or self.is_spot:
            return ()
        return tuple(
            np.column_stack([ends[:, 0] / self.cosine, ends[:, 1]]) for ends in plate_ends(plates)
        )

    def bulb(self, envelope: Envelope) -> tuple[float, float, float] | None:
        """Give the outline of a bulb round the picture: u, v of its middle, and its radius."""
        if not self.glows or not isinstance(envelope, Sphere):
            return None
        x, y, _ = envelope.centre
        return x, y, envelope.radius


def plate_ends(plates: Plates) -> tuple[Array, Array]:
    """Give the near and the far end (2, 2) of the upper and the lower plate: x and y in m."""
    middle = plates.start + plates.length / 2
    sides = ((1, plates.tilt_upper), (-1, plates.tilt_lower))
    upper, lower = (
        np.array([middle, plates.height_offset + side * plates.gap / 2])
        + plates.length / 2 * np.outer([-1.0, 1.0], [math.cos(tilt), math.sin(tilt)])
        for side, tilt in sides
    )
    return upper, lower


def multiples(low: float, high: float, pitch: float) -> list[float]:
    """Give the multiples of a pitch from low to high, both included."""
    first, last = math.ceil(low / pitch - _ON_EDGE), math.floor(high / pitch + _ON_EDGE)
    return [n * pitch for n in range(first, last + 1)]


@lru_cache(maxsize=64)
def screen_plane(screen: Screen) -> ScreenPlane:
    """Give the picture plane of a screen."""
    if isinstance(screen, Sheet):
        slope, half = screen.angle, screen.height / 2
        cosine = math.cos(slope)
        return ScreenPlane(
            shows="line",
            rectangle=(screen.x_from / cosine, -half, screen.x_to / cosine, half),
            grid_pitch=screen.grid_pitch,
            x_from=screen.x_from,
            x_to=screen.x_to,
            origin=(0.0, 0.0, screen.z_from - screen.x_from * math.tan(slope)),
            along_u=(cosine, 0.0, math.sin(slope)),
            axis_names=("along the sheet", "height"),
        )
    if isinstance(screen, EndFace):
        half_width, half = screen.width / 2, screen.height / 2
        return ScreenPlane(
            shows="spot",
            rectangle=(-half_width, -half, half_width, half),
            grid_pitch=screen.grid_pitch,
            x_from=screen.x,
            x_to=screen.x,
            origin=(screen.x, 0.0, 0.0),
            along_u=(0.0, 0.0, 1.0),
            axis_names=("sideways", "height"),
        )
    return ScreenPlane(
        shows="path",
        rectangle=(screen.x_from, screen.y_from, screen.x_to, screen.y_to),
        grid_pitch=screen.grid_pitch,
        x_from=screen.x_from,
        x_to=screen.x_to,
        origin=(0.0, 0.0, 0.0),
        along_u=(1.0, 0.0, 0.0),
        axis_names=("along the undeflected beam", "height"),
    )
