"""The same motion seen by somebody who moves along with the drift of crossed fields.

Where E and B cross, the frame that moves with v_d = E x B / B^2 has no electric field across B
left (J. D. Jackson, *Classical Electrodynamics*, section 12.3). What remains is a magnetic field,
and in that alone an electron keeps its speed and runs round a circle. So the turn-back of the
laboratory is a circle that is carried along. The frame exists while |E| < c B; at |E| >= c B no
observer is fast enough.

On a real bench the fields change from place to place. The frame is then that of their means over
the longest stretch along which the plates' field is at least three quarters of its strongest, and
how far the path there is from a circle is part of the answer.

Primed quantities are those of the moving observer. Index letters: m points along the path.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from glowtrace.bench.picture import Model, Ray
from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT

Array = NDArray[np.float64]
_STRONG = 0.75
"""Part of the strongest electric field from which a point belongs to the stretch looked at."""
_ENOUGH = 6
"""Points that a circle is fitted through, at least."""

NoFrameReason = Literal["no electron", "no magnetic field", "electric too strong"]
NO_FRAME: dict[NoFrameReason, str] = {
    "no electron": "No electron leaves the gun.",
    "no magnetic field": (
        "Without a magnetic field nothing turns the electron round: "
        "no moving observer sees a circle."
    ),
    "electric too strong": (
        "The electric field is so strong that the drift would have to be faster than light: "
        "the electron never turns back, and no moving observer sees a circle."
    ),
}


@dataclass(frozen=True)
class NoFrame:
    """There is no drift frame for this path, and why."""

    reason: NoFrameReason

    @property
    def says(self) -> str:
        """The reason in words for the page."""
        return NO_FRAME[self.reason]


@dataclass(frozen=True, eq=False)
class Circle:
    """The circle through the path in the drift frame."""

    centre: Array
    """(3,) m, at the mean distance along B."""
    radius: float
    """m."""
    across: Array
    """(2, 3) two unit vectors that span the plane of the circle."""
    turned: float
    """Angle in rad that the electron runs round within the stretch."""
    roughness: float
    """How far the points are from the circle, root mean square in m."""
    expected_radius: float
    """gamma' m v' / (e B') in m, from the mean fields and the speed at the start of the stretch."""


@dataclass(frozen=True, eq=False)
class DriftFrame:
    """A path as the observer sees it who moves with the drift velocity."""

    model: Model
    velocity: Array
    """(3,) drift velocity in m/s; zero where there is no electric field: the laboratory itself."""
    electric_field: Array
    """(3,) mean E of the laboratory over the stretch in V/m."""
    flux_density: Array
    """(3,) mean B there in T."""
    stretch: slice
    """The points of the path that belong to the stretch."""
    time: Array
    """(m,) s by the moving observer's clocks."""
    position: Array
    """(m, 3) m in the moving frame; its origin passes that of the laboratory at time 0."""
    velocity_seen: Array
    """(m, 3) m/s of the electron in the moving frame."""
    electric_field_seen: Array
    """(m, 3) V/m at the electron: what is left of E."""
    flux_density_seen: Array
    """(m, 3) T at the electron."""
    circle: Circle | None
    """None where the path has no circle: along B, or too short."""

    @property
    def speed(self) -> float:
        """Drift speed in m/s."""
        return float(np.linalg.norm(self.velocity))

    @property
    def is_laboratory(self) -> bool:
        """Whether there is no electric field, so that the laboratory is the drift frame already."""
        return not self.velocity.any()

    @property
    def speed_seen(self) -> Array:
        """Speed (m,) in m/s in the moving frame; constant where only B acts."""
        return np.asarray(np.linalg.norm(self.velocity_seen, axis=1))


def drift_frame(ray: Ray) -> DriftFrame | NoFrame:
    """Look at a path from the frame that moves with the drift of its crossed fields.

    Parameters
    ----------
    ray
        From `PreparedBench.central_ray`.

    Returns
    -------
    DriftFrame or NoFrame
        `NoFrame` without a magnetic field, or where |E| >= c B; its `says` tells which. With no
        electric field the drift velocity is zero and the frame is the laboratory.
    """
    if len(ray.time) == 0:
        return NoFrame("no electron")
    stretch = _stretch(ray.electric_field)
    electric = _mean(ray.time[stretch], ray.electric_field[stretch])
    flux = _mean(ray.time[stretch], ray.flux_density[stretch])
    strength = float(flux @ flux)
    if strength == 0.0:
        return NoFrame("no magnetic field")
    crossed = np.cross(electric, flux)
    if float(np.linalg.norm(crossed)) >= SPEED_OF_LIGHT * strength:
        return NoFrame("electric too strong")
    velocity = crossed / strength + 0.0  # which makes a zero of a minus zero
    time, position = events_seen(velocity, ray.time, ray.position)
    velocity_seen = velocities_seen(velocity, ray.velocity)
    electric_seen, flux_seen = fields_seen(velocity, ray.electric_field, ray.flux_density)
    turning = fields_seen(velocity, electric[None], flux[None])[1][0]
    circle = _circle(position[stretch], velocity_seen[stretch], turning)
    return DriftFrame(
        model=ray.model,
        velocity=velocity,
        electric_field=electric,
        flux_density=flux,
        stretch=stretch,
        time=time,
        position=position,
        velocity_seen=velocity_seen,
        electric_field_seen=electric_seen,
        flux_density_seen=flux_seen,
        circle=circle,
    )


def events_seen(velocity: Array, time: Array, position: Array) -> tuple[Array, Array]:
    """Times (m,) in s and positions (m, 3) in m as an observer with a velocity (3,) sees them.

    The Lorentz transformation; both origins coincide at time 0.
    """
    gamma, unit = _boost(velocity)
    along = position @ unit
    speed = float(np.linalg.norm(velocity))
    seen_time = gamma * (time - speed * along / SPEED_OF_LIGHT**2)
    seen_along = gamma * (along - speed * time)
    return seen_time, position + (seen_along - along)[:, None] * unit


def velocities_seen(velocity: Array, velocities: Array) -> Array:
    """Velocities (m, 3) in m/s as an observer with a velocity (3,) sees them."""
    gamma, unit = _boost(velocity)
    along = velocities @ unit
    speed = float(np.linalg.norm(velocity))
    across = velocities - along[:, None] * unit
    slowing = 1.0 - speed * along / SPEED_OF_LIGHT**2
    return np.asarray(
        (((along - speed)[:, None] * unit) + across / gamma) / slowing[:, None], dtype=float
    )


def fields_seen(velocity: Array, electric: Array, flux: Array) -> tuple[Array, Array]:
    """E' (m, 3) in V/m and B' (m, 3) in T as an observer with a velocity (3,) sees them.

    E' = gamma (E + v x B) across v and E along it, B' = gamma (B - v x E / c^2) across and B along
    (J. D. Jackson, *Classical Electrodynamics*, section 11.10).
    """
    gamma, unit = _boost(velocity)

    def seen(own: Array, other: Array) -> Array:
        whole = own + other
        along = (own @ unit)[:, None] * unit
        return np.asarray(gamma * (whole - (whole @ unit)[:, None] * unit) + along)

    return (
        seen(electric, np.cross(velocity, flux)),
        seen(flux, -np.cross(velocity, electric) / SPEED_OF_LIGHT**2),
    )


def _boost(velocity: Array) -> tuple[float, Array]:
    """Lorentz factor and direction (3,) of a velocity; no direction at rest."""
    speed = float(np.linalg.norm(velocity))
    gamma = 1.0 / float(np.sqrt(1.0 - (speed / SPEED_OF_LIGHT) ** 2))
    return gamma, velocity / speed if speed > 0.0 else np.zeros(3)


def _stretch(electric: Array) -> slice:
    """The longest stretch in a strong electric field; all where there is none.

    A beam that leaves the plates' field and comes back has more than one.
    """
    strength = np.linalg.norm(electric, axis=1)
    if not strength.any():
        return slice(0, len(strength))
    is_strong = np.concatenate([[False], strength >= _STRONG * strength.max(), [False]])
    begins, ends = np.flatnonzero(np.diff(is_strong)).reshape(-1, 2).T
    longest = int(np.argmax(ends - begins))
    return slice(int(begins[longest]), int(ends[longest]))


def _mean(time: Array, values: Array) -> Array:
    """Mean (3,) over time of values (m, 3)."""
    if len(time) < 2:
        return np.asarray(values.mean(axis=0))
    return np.asarray(np.trapezoid(values, time, axis=0) / (time[-1] - time[0]))


def _circle(position: Array, velocity: Array, flux: Array) -> Circle | None:
    """Fit the circle across B to a path in the drift frame."""
    if len(position) < _ENOUGH:
        return None
    axis = flux / np.linalg.norm(flux)
    turning = velocity - (velocity @ axis)[:, None] * axis
    speed = float(np.linalg.norm(turning[0]))
    if speed <= 1e-9 * float(np.linalg.norm(velocity[0])) or speed == 0.0:
        return None
    first = turning[0] / speed
    across = np.stack([first, np.cross(axis, first)])
    points = position @ across.T - position[0] @ across.T
    gamma = 1.0 / float(np.sqrt(1.0 - (velocity[0] @ velocity[0]) / SPEED_OF_LIGHT**2))
    expected = gamma * speed / (SPECIFIC_CHARGE * float(np.linalg.norm(flux)))
    size = float(np.abs(points).max()) or 1.0

    def misses(unknown: Array) -> Array:
        """Distance of each point from the circle, in units of the path's size."""
        x, y, radius = unknown
        return np.asarray(np.hypot(points[:, 0] / size - x, points[:, 1] / size - y) - radius)

    # The electron turns from its velocity towards axis x velocity: there the centre is looked for.
    start = np.array([0.0, expected, expected]) / size
    fitted = least_squares(misses, start, method="lm", xtol=1e-14, ftol=1e-14, gtol=1e-14)
    middle = (fitted.x[:2] * size) @ across
    heading = np.unwrap(np.arctan2(turning @ across[1], turning @ across[0]))
    return Circle(
        centre=position[0] + middle + ((position - position[0]) @ axis).mean() * axis,
        radius=float(abs(fitted.x[2])) * size,
        across=across,
        turned=float(abs(heading[-1] - heading[0])),
        roughness=float(np.sqrt((misses(fitted.x) ** 2).mean()) * size),
        expected_radius=expected,
    )
