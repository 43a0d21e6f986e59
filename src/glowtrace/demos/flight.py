"""One electron through ideal fields, stretch by stretch: uniform fields with exact borders.

Within a stretch the fields are uniform and the motion is exact (`uniform_field_motion`). A stretch
ends where the electron crosses a surface; the crossing is found by root-finding on the exact path.
A surface is met from one side or the other and decides by the place of the crossing: it may end the
flight there, or let the electron pass, perhaps into other fields.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.demos.kinematics import FloatArray, lorentz_factor
from glowtrace.demos.uniform_field import Motion, uniform_field_motion

_STEP_LENGTH = 1e-3  # m: no surface is looked for between points of the path closer than this
_STEP_ANGLE = 0.05  # rad of a turn
_STEPS_AT_ONCE = 256
_MOST_STEPS = 64 * _STEPS_AT_ONCE  # some 16 m: an electron that still flies then never ends
_AHEAD = 1e-9  # m: how far ahead of the start its side of each surface is judged


@dataclass(frozen=True)
class Surface:
    """A surface that ends a flight or marks where the fields change."""

    height: Callable[[FloatArray], FloatArray]
    """Height of positions (n, 3) over the surface, (n,): the sign is the side, 0 is on it."""
    verdict: Callable[[FloatArray, bool], str | None]
    """End of the flight for a crossing at a position (3,), upwards (True) or downwards; None
    lets the electron pass."""


@dataclass(frozen=True)
class Stretch:
    """A part of a flight in uniform fields."""

    electric_field: FloatArray
    """(3,) V/m."""
    flux_density: FloatArray
    """(3,) T."""
    position: FloatArray
    """(3,) m, at its start."""
    velocity: FloatArray
    """(3,) m/s, at its start."""
    duration: float
    """Proper time in s."""
    is_over: tuple[bool, ...]
    """For each surface, whether the stretch lies over it."""

    def motion(self, proper_times: FloatArray) -> Motion:
        """Motion at proper times (t,) since the start of the stretch."""
        return uniform_field_motion(
            self.electric_field, self.flux_density, self.position, self.velocity, proper_times
        )


@dataclass(frozen=True)
class Flight:
    """The whole way of an electron: its stretches, and how it ended."""

    stretches: tuple[Stretch, ...]
    end: str

    def positions(self, samples: int) -> FloatArray:
        """Positions (samples, 3) in m, evenly spread in proper time, both ends included."""
        borders = np.cumsum([0.0, *(stretch.duration for stretch in self.stretches)])
        wanted = np.linspace(0.0, borders[-1], samples)
        number = np.searchsorted(borders[1:-1], wanted, side="right")
        return np.concatenate(
            [
                stretch.motion(wanted[number == i] - borders[i]).position
                for i, stretch in enumerate(self.stretches)
            ]
        )


def fly(
    position: FloatArray,
    velocity: FloatArray,
    surfaces: Sequence[Surface],
    fields_on: Callable[[tuple[bool, ...]], tuple[FloatArray, FloatArray]],
) -> Flight:
    """Fly one electron until a surface ends the flight.

    Parameters
    ----------
    position, velocity
        (3,) at the start, in m and m/s; the velocity must not be zero.
    surfaces
        What the electron can cross. A detour of less than a millimetre and of less than 0.05 rad
        of a turn through a surface and back may go unnoticed.
    fields_on
        Gives (E (3,) in V/m, B (3,) in T) for the sides of the surfaces that the electron is on:
        a flag for each surface, True over it.

    Returns
    -------
    Flight
        Its end is the surface's verdict, or "still flying" after some 16 m of path.
    """
    speed = float(np.linalg.norm(velocity))
    ahead = position + velocity / speed * _AHEAD
    is_over = tuple(_is_over(surface, ahead) for surface in surfaces)
    steps_left = _MOST_STEPS
    stretches: list[Stretch] = []
    while steps_left > 0:
        E, B = fields_on(is_over)
        step = _step(speed, B)
        stretch = Stretch(E, B, position, velocity, steps_left * step, is_over)
        crossing = _first_crossing(stretch, surfaces, step)
        if crossing is None:
            return Flight((*stretches, stretch), "still flying")
        duration, crossed = crossing
        stretches.append(replace(stretch, duration=duration))
        motion = stretch.motion(np.array([duration]))
        position, velocity = motion.position[0], motion.velocity[0]
        end = surfaces[crossed].verdict(position, not is_over[crossed])
        if end is not None:
            return Flight(tuple(stretches), end)
        is_over = (*is_over[:crossed], not is_over[crossed], *is_over[crossed + 1 :])
        steps_left -= 1 + int(duration / step)
    return Flight(tuple(stretches), "still flying")


def _step(speed: float, B: FloatArray) -> float:
    """Proper time in s between the points of the path at which surfaces are looked for."""
    along = _STEP_LENGTH / (lorentz_factor(speed) * speed)
    turning = SPECIFIC_CHARGE * float(np.linalg.norm(B))
    return min(along, _STEP_ANGLE / turning) if turning > 0 else along


def _first_crossing(
    stretch: Stretch, surfaces: Sequence[Surface], step: float
) -> tuple[float, int] | None:
    """Proper time in s and index of the surface that the stretch crosses first, if any."""
    was_over = np.array(stretch.is_over)[:, None]
    for first in range(1, 1 + round(stretch.duration / step), _STEPS_AT_ONCE):
        tau = step * np.arange(first, first + _STEPS_AT_ONCE, dtype=np.float64)
        positions = stretch.motion(tau).position
        has_crossed = np.array([surface.height(positions) > 0 for surface in surfaces]) != was_over
        if has_crossed.any():
            i = int(has_crossed.any(axis=0).argmax())
            return min(
                (_crossing_time(stretch, surface, tau[i] - step, tau[i]), k)
                for k, surface in enumerate(surfaces)
                if has_crossed[k, i]
            )
    return None


def _crossing_time(stretch: Stretch, surface: Surface, low: float, high: float) -> float:
    def height(tau: float) -> float:
        return float(surface.height(stretch.motion(np.array([tau])).position)[0])

    if height(low) * height(high) > 0:  # back at once over the surface that began the stretch
        return low
    return float(brentq(height, low, high, xtol=1e-12 * (high - low)))


def _is_over(surface: Surface, position: FloatArray) -> bool:
    return bool(surface.height(position[None, :])[0] > 0)
