"""The beam's axis as one electron that no screen stops: for searching, not for showing.

A phosphor sheet catches the middle of a broad beam halfway along; the part of the beam that draws
the end of the line starts further to the side. An axis is therefore started at the z where the
sheet stands at the x that matters.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from glowtrace.beam.bundle import fly_electrons
from glowtrace.beam.obstacles import SCREEN, Rectangle, obstacles
from glowtrace.bench.layout import bench_obstacles
from glowtrace.bench.model import Bench, Sheet
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.constants import SPEED_OF_LIGHT
from glowtrace.demos.kinematics import FloatArray, lorentz_factor_from_voltage, speed_from_voltage
from glowtrace.fields.interpolation import IDEAL, Field, fields_at

_SPACING = 0.00025
"""Distance in m between the points kept of a path: a parabola through three of them then finds a
turning point to about 1e-6 of the path's size."""
_BEFORE_EDGE = 1e-10
"""Distance in m by which a plane is met before its x."""
_WIDE = 1.0
"""Size in m of a plane that no electron flies past."""


@dataclass(frozen=True, eq=False)
class Axis:
    """The path of one electron."""

    position: FloatArray
    """(m, 3) m, at equal distances along the path, the end included."""
    momentum: FloatArray
    """(m, 3) u = gamma v in m/s."""
    time: FloatArray
    """(m,) s."""
    end: str
    """What ended it; "screen" where it came to the plane that was asked for."""


def start(
    field: Field, accelerating_voltage: float, z: float = 0.0, slope: float = 0.0
) -> FloatArray | None:
    """Give position in m and u in m/s (6,) of an electron at the aperture.

    It has the energy that the potential at its starting point leaves it; None if that is nothing.
    ``slope`` is dy/dx of its direction.
    """
    voltage = accelerating_voltage
    if field.kind != IDEAL:
        voltage += float(fields_at(field, np.array([[0.0, 0.0, z]]))[2][0])
    if not voltage > 0.0:
        return None
    momentum = lorentz_factor_from_voltage(voltage) * speed_from_voltage(voltage)
    forward = momentum / np.hypot(1.0, slope)
    return np.array([0.0, 0.0, z, forward, forward * slope, 0.0])


def follow(
    prepared: PreparedBench,
    settings: Settings,
    model: Model,
    *,
    plane_x: float | None = None,
    z: float = 0.0,
    slope: float = 0.0,
    longest: float = 0.5,
    spacing: float | None = _SPACING,
    has_anode: bool = False,
    tolerance: float = 1e-9,
) -> Axis | None:
    """Follow one electron through the fields, past screen and plates, within the field map.

    Parameters
    ----------
    prepared, settings, model
        As for `PreparedBench.picture`.
    plane_x
        x in m of a plane across the tube that ends the flight; none when left out.
    z, slope
        Where it starts in m, and dy/dx of its direction there.
    longest
        Length of path in m after which it is given up.
    spacing
        Distance in m between the points kept; only start and end when None.
    has_anode
        Whether the anode ends the flight, and is then its "screen".
    tolerance
        Error of position in m allowed per step.

    Returns
    -------
    Axis or None
        None where the field keeps the electron in the gun.
    """
    if settings.accelerating_voltage <= 0.0:
        return None
    field = prepared.field(settings, model)
    state = start(field, settings.accelerating_voltage, z, slope)
    if state is None:
        return None
    if has_anode:
        walls, _ = bench_obstacles(prepared.bench)
        flat = walls.flat[:1].copy()  # the anode is the first obstacle
        flat[:, 12] = SCREEN
        walls = walls._replace(flat=flat)
    else:
        plane = None
        if plane_x is not None:
            # Ideal fields end a step on the plates' edges: a plane just there is met before it.
            at = plane_x - _BEFORE_EDGE
            plane = Rectangle((at, 0, 0), (0, _WIDE, 0), (0, 0, _WIDE))
        walls, _ = obstacles({}, plane, None)
    step = spacing or 2 * longest
    flights = fly_electrons(
        field, walls, state[None], stations=int(longest / step) + 3, station_spacing=step,
        tolerance=tolerance, longest=longest, threads=1,
    )  # fmt: skip
    path = flights.paths[0]
    path = path[~np.isnan(path[:, 0])]
    name = {SCREEN: "screen"}.get(int(flights.ends[0]), "off")
    return Axis(path[:, :3], path[:, 3:6], path[:, 6], name)


def height_at(
    prepared: PreparedBench, settings: Settings, model: Model, x: float
) -> tuple[float, float]:
    """Give height in m and slope of the axis where it first comes to x; NaN where it never does."""
    axis = follow(
        prepared, settings, model, plane_x=x, z=sheet_z(prepared.bench, x), spacing=None,
        longest=4 * x,
    )  # fmt: skip
    if axis is None or axis.end != "screen":
        return float("nan"), float("nan")
    u = axis.momentum[-1]
    return float(axis.position[-1, 1]), float(u[1] / u[0])


def sheet_z(bench: Bench, x: float) -> float:
    """Give the z in m at which the beam draws the trace at x: on a sheet, within the aperture."""
    screen = bench.screen
    if not isinstance(screen, Sheet):
        return 0.0
    part = (x - screen.x_from) / (screen.x_to - screen.x_from)
    z = screen.z_from + part * (screen.z_to - screen.z_from)
    half = bench.gun.aperture_width / 2
    return float(np.clip(z, -half, half))


def gyrations(axis: Axis, flux: FloatArray, specific_charge: float) -> FloatArray:
    """Give the Larmor angle in rad, half the turn that the velocity has made about x, along a path.

    ``flux`` is B_x in T at the path's points (m,).
    """
    gamma = np.sqrt(1.0 + (axis.momentum**2).sum(axis=1) / SPEED_OF_LIGHT**2)
    rate = 0.5 * specific_charge * flux / gamma
    steps = np.diff(axis.time) * (rate[1:] + rate[:-1]) / 2
    angle: FloatArray = np.concatenate([[0.0], np.cumsum(steps)])
    return angle
