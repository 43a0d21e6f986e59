"""One electron through the fields: relativistic, with its own step size, until it ends.

The independent variable is the electron's proper time tau, because the equations lose their
divisions there (u = gamma v, q/m = -e/m_e):

    dr/dtau = u,    du/dtau = q/m (gamma E + u x B),    gamma = sqrt(1 + u^2/c^2)

They are advanced by the 5(4) pair of Dormand and Prince with the error per step held under a
tolerance in position (an error of velocity counts as the position error it makes in a typical
flight). The potential is the same at a place however an electron came there, so its energy is known
exactly: after each step u is stretched to it, which takes out the drift of energy that is left when
a step crosses the cells of the field map (a projection onto the conserved quantity; ideal fields
with sharp edges have no potential and go without). Between steps the path is the polynomial of
fifth degree that has the position, velocity and acceleration of both ends.

References
----------
J. R. Dormand and P. J. Prince, "A family of embedded Runge-Kutta formulae", J. Comput. Appl. Math.
6 (1980) 19-26. E. Hairer, C. Lubich, G. Wanner, "Geometric Numerical Integration", Springer 2006,
section IV.4 (projection methods).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.obstacles import FLYING, Obstacles, first_hit, place_on
from glowtrace.beam.screen import Canvas, deposit_along
from glowtrace.compiled import compiled
from glowtrace.constants import REST_ENERGY_VOLTS, SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.fields.interpolation import IDEAL, Field, field_at

Array = NDArray[np.float64]

_CHARGE_TO_MASS = -SPECIFIC_CHARGE
_PER_C_SQUARED = 1.0 / SPEED_OF_LIGHT**2
_TYPICAL_FLIGHT = 0.1
"""Length in m over which an error of velocity grows to an error of position."""
_STAGES = np.array(
    [
        [0, 0, 0, 0, 0, 0],
        [1 / 5, 0, 0, 0, 0, 0],
        [3 / 40, 9 / 40, 0, 0, 0, 0],
        [44 / 45, -56 / 15, 32 / 9, 0, 0, 0],
        [19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729, 0, 0],
        [9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656, 0],
        [35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84],
    ]
)
_DIFFERENCE = np.array([71 / 57600, 0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40])
_MOST_STEPS = 20_000
_FIRST_STEP, _FIRST_PART = 0.005, 0.12
"""Length of the first step in m, and as a part of the aperture's box."""
_STATION_VALUES = 7
_ON_EDGE = 1e-13
"""Distance in m within which an electron counts as being on the edge of the ideal field."""


@compiled(inlined=True)
def _acceleration(
    field: Field, inside: bool, x: float, y: float, z: float, ux: float, uy: float, uz: float
) -> tuple[float, float, float, float]:
    """Give du/dtau (3) in m/s^2, and the potential in V."""
    ex, ey, ez, bx, by, bz, potential = field_at(field, x, y, z, inside)
    gamma = math.sqrt(1.0 + (ux * ux + uy * uy + uz * uz) * _PER_C_SQUARED)
    return (
        _CHARGE_TO_MASS * (gamma * ex + uy * bz - uz * by),
        _CHARGE_TO_MASS * (gamma * ey + uz * bx - ux * bz),
        _CHARGE_TO_MASS * (gamma * ez + ux * by - uy * bx),
        potential,
    )


@compiled()
def _start_slopes(field: Field, inside: bool, state: Array, slopes: Array) -> float:
    """Write the derivative of (r, u) into the first of ``slopes`` (7, 6); gives the potential."""
    slopes[0, 0], slopes[0, 1], slopes[0, 2] = state[3], state[4], state[5]
    slopes[0, 3], slopes[0, 4], slopes[0, 5], potential = _acceleration(
        field, inside, state[0], state[1], state[2], state[3], state[4], state[5]
    )
    return potential


@compiled()
def _step(
    field: Field, inside: bool, state: Array, slopes: Array, h: float, after: Array
) -> tuple[float, float, float]:
    """Advance (r, u) by h; gives the estimated errors of r in m and of u in m/s, and the potential.

    ``slopes`` (7, 6) holds the derivatives at the seven stages: the first is given, the last is the
    one at the end of the step.
    """
    potential = 0.0
    for stage in range(1, 7):
        for m in range(6):
            total = 0.0
            for earlier in range(stage):
                total += _STAGES[stage, earlier] * slopes[earlier, m]
            after[m] = state[m] + h * total
        slopes[stage, 0], slopes[stage, 1], slopes[stage, 2] = after[3], after[4], after[5]
        slopes[stage, 3], slopes[stage, 4], slopes[stage, 5], potential = _acceleration(
            field, inside, after[0], after[1], after[2], after[3], after[4], after[5]
        )
    error_r = error_u = 0.0
    for m in range(3):
        difference_r = difference_u = 0.0
        for stage in range(7):
            difference_r += _DIFFERENCE[stage] * slopes[stage, m]
            difference_u += _DIFFERENCE[stage] * slopes[stage, 3 + m]
        error_r += difference_r * difference_r
        error_u += difference_u * difference_u
    return h * math.sqrt(error_r), h * math.sqrt(error_u), potential


@compiled(inlined=True)
def _kinetic(state: Array) -> float:
    """Give gamma - 1, without cancellation for slow electrons."""
    u2 = (state[3] ** 2 + state[4] ** 2 + state[5] ** 2) * _PER_C_SQUARED
    return float(u2 / (math.sqrt(1.0 + u2) + 1.0))


@compiled(inlined=True)
def _set_energy(state: Array, kinetic: float) -> None:
    """Stretch u so that gamma - 1 is ``kinetic``; its direction is kept."""
    u2 = (state[3] ** 2 + state[4] ** 2 + state[5] ** 2) * _PER_C_SQUARED
    stretch = math.sqrt(kinetic * (kinetic + 2.0) / u2)
    for m in range(3):
        state[3 + m] *= stretch


@compiled()
def _join(path: Array, state: Array, after: Array, slopes: Array, h: float) -> None:
    """Fill ``path`` (3, 6), powers of the fraction: the quintic with r, u, du/dtau of both ends."""
    for m in range(3):
        first, second = h * state[3 + m], 0.5 * h * h * slopes[0, 3 + m]
        d = after[m] - state[m] - first - second
        e = h * (after[3 + m] - state[3 + m] - h * slopes[0, 3 + m])
        g = h * h * (slopes[6, 3 + m] - slopes[0, 3 + m])
        path[m, 0], path[m, 1], path[m, 2] = state[m], first, second
        path[m, 3] = 10.0 * d - 4.0 * e + 0.5 * g
        path[m, 4] = -15.0 * d + 7.0 * e - g
        path[m, 5] = 6.0 * d - 3.0 * e + 0.5 * g


@compiled()
def _record(path: Array, s: float, h: float, time: float, station: Array) -> None:
    """Write position, u and time at the fraction s of a step into ``station`` (7,)."""
    station[0], station[1], station[2] = place_on(path, s)
    for m in range(3):
        bend = 3.0 * path[m, 3] + s * (4.0 * path[m, 4] + s * 5.0 * path[m, 5])
        station[3 + m] = (path[m, 1] + s * (2.0 * path[m, 2] + s * bend)) / h
    station[6] = time


@compiled()
def _correct_energy(field: Field, energy: float, station: Array) -> None:
    """Stretch u at a point within a step to the energy that the potential there leaves."""
    if field.kind != IDEAL:
        potential = field_at(field, station[0], station[1], station[2], False)[6]
        kinetic = energy + potential / REST_ENERGY_VOLTS
        if kinetic > 0.0:
            _set_energy(station, kinetic)


@compiled()
def _edge_crossing(field: Field, state: Array, after: Array) -> float:
    """Tell where a step meets a sharp edge of the ideal electric field.

    Gives about the fraction of the step at which it crosses one, exactly 1 where it ends on one,
    and 2 where it does neither. Steps end on the edges, since no step can see across a jump.
    """
    fraction = 2.0
    for edge in field.edges:
        before, behind = state[0] - edge, after[0] - edge
        if abs(before) > _ON_EDGE:
            if abs(behind) <= _ON_EDGE:
                fraction = min(fraction, 1.0)
            elif before * behind < 0.0:
                fraction = min(fraction, before / (before - behind))
    return fraction


@compiled()
def _first_step(field: Field) -> float:
    """Give the length in m of the step to begin with: short where the aperture has a field."""
    box = field.boxes[2] if field.boxes[2].start > 0 else field.boxes[1]
    if field.kind == IDEAL or box.start == 0:
        return _FIRST_STEP
    return _FIRST_PART * (box.highest[0] - box.lowest[0])


@compiled()
def fly(
    field: Field,
    walls: Obstacles,
    inside: bool,
    tolerance: float,
    longest: float,
    state: Array,
    stations: Array,
    station_spacing: float,
    canvas: Canvas,
    image: Array,
) -> tuple[int, float, int, int]:
    """Let one electron fly from ``state`` until it meets something or has flown ``longest``.

    Parameters
    ----------
    field, walls
        See `Field` and `Obstacles`.
    inside
        Whether the flight starts inside the ideal electric field.
    tolerance
        Error of position allowed per step in m.
    longest
        Length of path in m after which the electron is given up as still flying.
    state
        Position in m and u = gamma v in m/s, (6,); replaced by those at the end.
    stations
        (p, 7): receives x, y, z, ux, uy, uz and time in s at equal distances along the path; p may
        be 0. The last row used is the end of the flight.
    station_spacing
        That distance in m.
    canvas, image
        Where light along the path goes, if ``canvas`` says that there is any.

    Returns
    -------
    tuple[int, float, int, int]
        End code, time of flight in s, how many stations were written, and how many steps taken.
    """
    path = np.empty((3, 6))
    after, slopes = np.empty(6), np.empty((7, 6))
    potential = _start_slopes(field, inside, state, slopes)
    energy = _kinetic(state) - potential / REST_ENERGY_VOLTS
    speed = math.sqrt(state[3] ** 2 + state[4] ** 2 + state[5] ** 2)
    h = _first_step(field) / speed
    length = time = 0.0
    written = 0
    if stations.shape[0] > 0:
        stations[0, :6] = state
        stations[0, 6] = 0.0
        written = 1
    steps = 0
    grown = 5.0
    while steps < _MOST_STEPS:
        error_r, error_u, potential = _step(field, inside, state, slopes, h, after)
        steps += 1
        error = (error_r + error_u * (_TYPICAL_FLIGHT / speed)) / tolerance
        factor = 0.9 * max(error, 1e-10) ** -0.2
        if error > 1.0:
            h *= max(factor, 0.2)
            grown = 1.0
            continue
        edge = _edge_crossing(field, state, after) if field.kind == IDEAL else 2.0
        if edge < 1.0:
            h *= edge
            continue
        kinetic = energy + potential / REST_ENERGY_VOLTS
        if field.kind != IDEAL and kinetic > 0.0:
            _set_energy(after, kinetic)
            slopes[6, 0], slopes[6, 1], slopes[6, 2] = after[3], after[4], after[5]
        _join(path, state, after, slopes, h)
        step_length = 0.5 * h * (speed + math.sqrt(after[3] ** 2 + after[4] ** 2 + after[5] ** 2))
        s, code = first_hit(path, walls, field.lowest, field.highest, step_length)
        part = min(s, 1.0)
        if length + step_length * part >= longest:
            part, code = (longest - length) / step_length, FLYING
            s = part
        g0, g1 = 1.0 + _kinetic(state), 1.0 + _kinetic(after)
        if canvas.glows:
            deposit_along(canvas, image, path, part, step_length * part)
        while (
            written < stations.shape[0] and written * station_spacing <= length + step_length * part
        ):
            t = (written * station_spacing - length) / step_length
            _record(path, t, h, time + h * t * (g0 + 0.5 * t * (g1 - g0)), stations[written])
            if not canvas.glows:  # there only the places are used
                _correct_energy(field, energy, stations[written])
            written += 1
        length += step_length * part
        time += h * part * (g0 + 0.5 * part * (g1 - g0))
        if s <= 1.0:
            last = np.empty(_STATION_VALUES)
            _record(path, part, h, time, last)
            _correct_energy(field, energy, last)
            state[:] = last[:6]
            if written < stations.shape[0]:
                stations[written] = last
                written += 1
            return code, time, written, steps
        for m in range(6):
            state[m] = after[m]
        speed = math.sqrt(after[3] ** 2 + after[4] ** 2 + after[5] ** 2)
        if edge == 1.0:
            inside = not inside
            _start_slopes(field, inside, state, slopes)
        else:
            for m in range(6):
                slopes[0, m] = slopes[6, m]
        h *= min(max(factor, 0.2), grown)
        grown = 5.0
    return FLYING, time, written, steps
