"""Electron in crossed uniform fields that do not cancel: the trochoid, with all its regimes.

E_y (V/m) across, B_z (T) towards the audience, the electron enters at the origin along +x with
speed v0. In the frame that moves along x with the drift speed v_d = E_y / B_z there is no
electric field left, and the electron runs round a circle there; the audience sees the circle
carried along. In the textbook's limit (all speeds far below c):

    depth of the far point     2 m (v0 - v_d) / (e B)
    pitch                      2 pi m v_d / (e B)
    velocity at the far point  2 v_d - v0, along x

What happens at the far point (the lowest one of a beam that dips): the vertical velocity is
zero, nothing else need be. For v_d > v0/2 the electron is still moving forwards there, for
v_d < v0/2 backwards, so that it draws loops. The magnetic force e v B acts there as everywhere.
Take plates that pull up and coils that push down harder: on its way down the electron loses speed
to the electric force, the magnetic force with it becomes the weaker of the two, and so the beam
turns up again. In loops the electron even flies backwards at the bottom, and there both forces
pull up. Only in the one case between, v_d = v0/2, the cusp of a cycloid, does the electron come to
rest for an instant and the magnetic force vanish.

Exactly, the drift frame exists while |E_y| < c |B_z|. Symbols with `rest` are seen in the drift
frame, where the guiding centre is at rest: v' = (v0 - v_d) / (1 - v0 v_d / c^2),
gamma' = gamma_0 gamma_d (1 - v0 v_d / c^2), B' = B / gamma_d. Hence

    depth   2 m gamma_0 gamma_d^2 (v0 - v_d) / (e B)
    pitch   2 pi m gamma_0 gamma_d^3 (1 - v0 v_d / c^2) v_d / (e B)

and the cusp lies at v_d = v0 gamma_0 / (gamma_0 + 1). With |E_y| >= c |B_z| nothing turns back:
there is a frame with no magnetic field instead, and the path is a parabola seen from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.demos.kinematics import FloatArray, lorentz_factor
from glowtrace.demos.null import force_ratio
from glowtrace.errors import GlowtraceError, Problem

CrossedRegime = Literal[
    "straight", "parabola", "arc", "null", "forward trochoid", "cusp", "looping trochoid"
]


class PlanePath(NamedTuple):
    """A path in the picture plane, at each of p phases."""

    time: FloatArray
    """(p,) s."""
    x: FloatArray
    """(p,) m."""
    y: FloatArray
    """(p,) m."""


@dataclass(frozen=True)
class Trochoid:
    """The exact trochoid of one electron. Signs: depth > 0 is up, speeds > 0 are along +x."""

    drift_speed: float
    """v_d in m/s."""
    depth: float
    """Height y in m of the far point, where the electron turns back; negative for a dip."""
    pitch: float
    """Advance along x in m in one turn, back to the height of entry; negative for a drift back."""
    period: float
    """Time in s for one turn."""
    far_point_speed: float
    """Velocity along x in m/s at the far point: zero only at the cusp."""
    rest_speed: float
    """Velocity v' along x in m/s on entry, seen in the drift frame."""
    rest_rate: float
    """Angular frequency of the circle in the drift frame in rad/s, more than 0."""

    def path(self, phase: FloatArray) -> PlanePath:
        """Time, x and y at phases (p,) in rad round the circle of the drift frame; 2 pi a turn."""
        gamma_d = lorentz_factor(abs(self.drift_speed))
        rest_time = phase / self.rest_rate
        rest_x = self.rest_speed / self.rest_rate * np.sin(phase)
        return PlanePath(
            time=gamma_d * (rest_time + self.drift_speed * rest_x / SPEED_OF_LIGHT**2),
            x=gamma_d * (rest_x + self.drift_speed * rest_time),
            y=self.depth * np.sin(phase / 2) ** 2,
        )


def trochoid(
    speed: float, E_y: float, B_z: float, *, specific_charge: float = SPECIFIC_CHARGE
) -> Trochoid:
    """Trochoid of an electron that enters crossed fields along +x; E_y = 0 gives the circle.

    Parameters
    ----------
    speed
        Speed on entry in m/s, along +x.
    E_y, B_z
        Electric field in V/m and flux density in T, with |E_y| < c |B_z|.
    specific_charge
        Magnitude of charge over mass in C/kg.

    Raises
    ------
    GlowtraceError
        If |E_y| >= c |B_z|: the electron never turns back; `uniform_field_motion` has its path.

    Examples
    --------
    >>> dip = trochoid(3.0e7, E_y=-1.2e4, B_z=-1.0e-3)
    >>> f"{1e3 * dip.depth:.1f} mm deep, {1e3 * dip.pitch:.0f} mm to the next entry height"
    '-206.0 mm deep, 430 mm to the next entry height'
    >>> f"{dip.far_point_speed:.2e} m/s at the lowest point: backwards, not at rest"
    '-6.09e+06 m/s at the lowest point: backwards, not at rest'
    """
    if abs(E_y) >= SPEED_OF_LIGHT * abs(B_z):
        limit = f"with this B_z a trochoid needs |E_y| below {SPEED_OF_LIGHT * abs(B_z):.6g} V/m"
        raise GlowtraceError(Problem("E_y", f"{E_y:.6g} V/m", limit))
    drift = E_y / B_z
    gamma_d = lorentz_factor(abs(drift))
    closeness = 1 - speed * drift / SPEED_OF_LIGHT**2
    rest_gamma = lorentz_factor(speed) * gamma_d * closeness
    rest_speed = (speed - drift) / closeness
    rest_rate = specific_charge * abs(B_z) / (gamma_d * rest_gamma)
    period = gamma_d * 2 * np.pi / rest_rate
    return Trochoid(
        drift_speed=drift,
        depth=float(np.copysign(2 * rest_speed / rest_rate, rest_speed * B_z)),
        pitch=drift * period,
        period=period,
        far_point_speed=(drift - rest_speed) / (1 - drift * rest_speed / SPEED_OF_LIGHT**2),
        rest_speed=rest_speed,
        rest_rate=rest_rate,
    )


def cusp_force_ratio(speed: float) -> float:
    """Force ratio (electric over magnetic, on entry) that makes the far point a cusp.

    gamma / (gamma + 1): one half in the textbook's limit. There the electron enters with just
    the energy that the electric field takes from it on the way to the far point.
    """
    gamma = lorentz_factor(speed)
    return gamma / (gamma + 1)


def crossed_regime(
    speed: float, E_y: float, B_z: float, *, tolerance: float = 1e-9
) -> CrossedRegime:
    """Name what an electron along +x (speed in m/s) does in crossed fields, any of them zero.

    "straight" (no field), "parabola" (no magnetic field, or |E_y| >= c |B_z|), "arc" (no electric
    field), "null" (the forces cancel), and the three trochoids: "forward trochoid" (the electron
    moves forwards all the time), "cusp", and "looping trochoid" (backwards at the far point).
    The null and the cusp are points on the scale of a knob: `tolerance` is the relative
    difference of the force ratio from theirs that still counts.
    """
    if B_z == 0:
        return "straight" if E_y == 0 else "parabola"
    if E_y == 0:
        return "arc"
    if abs(E_y) >= SPEED_OF_LIGHT * abs(B_z):
        return "parabola"
    ratio, cusp = force_ratio(speed, E_y, B_z), cusp_force_ratio(speed)
    if abs(ratio - 1) <= tolerance:
        return "null"
    if abs(ratio - cusp) <= tolerance * cusp:
        return "cusp"
    return "forward trochoid" if ratio > cusp else "looping trochoid"
