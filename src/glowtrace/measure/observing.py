"""What would be read at given knobs, and what the textbook's formula makes of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from scipy import optimize

from glowtrace.demos.helix import focus_flux_density
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.demos.null import null_plate_voltage
from glowtrace.demos.parabola import height_beyond_plates
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.measure.direct import (
    specific_charge_from_arc,
    specific_charge_from_circle,
    specific_charge_from_focus,
    specific_charge_from_null,
    specific_charge_from_turn_back,
)
from glowtrace.measure.methods import Method
from glowtrace.measure.tracer import Tracer
from glowtrace.measure.tube import Tube

_SEARCH = 0.7
"""How far, as a part of the textbook's value, a null or a focus is looked for."""
_HALF = 14
"""Values tried on each side of it."""


@dataclass(frozen=True)
class Knobs:
    """What is set, and where it is read, in SI units with signs; unused ones stay zero."""

    accelerating_voltage: float
    plate_voltage: float = 0.0
    """Signed; of a null this is looked for."""
    coil_current: float = 0.0
    """Signed; of an axial focus this is looked for."""
    x: float = 0.0
    """Where the trace's height is read, or a null judged."""
    length: float = 0.0
    """From the aperture to the axial focus."""
    turns: int = 1


@dataclass(frozen=True)
class Viewing:
    """How the eye meets the scale."""

    gap: float = 0.0
    """From the scale back to the trace, m: more than 0 where they do not lie on each other."""
    distance: float = 0.5
    """From the eye to the scale, m."""
    eye_height: float = 0.0
    """Of the eye over the axis, m."""

    def __post_init__(self) -> None:
        if not (self.gap >= 0 and self.distance > 0 and math.isfinite(self.eye_height)):
            given = f"gap {self.gap} m, distance {self.distance} m, eye at {self.eye_height} m"
            allowed = "give a gap of 0 m or more and a distance above 0 m"
            raise GlowtraceError(Problem("viewing", given, allowed))

    def read_height(self, true: float) -> float:
        """Height on the scale at which something at a true height is seen, m."""
        return true + (self.eye_height - true) * self.share

    def read_length(self, true: float) -> float:
        """Length on the scale that a true length seems to have, m."""
        return true * (1.0 - self.share)

    @property
    def share(self) -> float:
        """Gap over the distance from the eye to the trace."""
        return self.gap / (self.distance + self.gap)


STRAIGHT_ON: Final = Viewing()
"""The trace lies on the scale: no parallax."""


@dataclass(frozen=True)
class Observation:
    """One reading: the height y, diameter or depth in m, V_p of a null in V, I of a focus in A."""

    knobs: Knobs
    value: float


Observe = Callable[[Tracer, Tube, Knobs, Viewing], float]


def observe(
    method: Method, tracer: Tracer, tube: Tube, knobs: Knobs, viewing: Viewing = STRAIGHT_ON
) -> Observation:
    """Give what would be read on the bench.

    Raises
    ------
    GlowtraceError
        If there is no such reading at these knobs: the beam ends before, or no null is found.
    """
    value = _OBSERVERS[method](tracer, tube, knobs, viewing)
    if not math.isfinite(value):
        allowed = "the beam ends before it can be read; choose other knobs"
        raise GlowtraceError(Problem("knobs", f"{knobs}", allowed))
    return Observation(knobs, value)


def evaluate(method: Method, tube: Tube, seen: Observation, *, relativistic: bool = True) -> float:
    """Give what the textbook's formula makes of a reading, with the constants of a tube.

    e/m in C/kg; of plates only, where e/m cancels, the plate factor: the deflection over that of
    the formula. Without relativity the formula is the one for slow electrons.
    """
    # All voltages times s and flux densities times sqrt(s) leave the paths of slow electrons as
    # they are; far enough down the exact formulas are therefore the classical ones.
    s = 1.0 if relativistic else 1e-6
    knobs, root = seen.knobs, math.sqrt(s)
    voltage = s * knobs.accelerating_voltage
    flux = root * tube.coil_constant * knobs.coil_current
    field = -s * knobs.plate_voltage / tube.plate_gap
    match method:
        case "circle":
            return specific_charge_from_circle(voltage, abs(flux), seen.value / 2)
        case "coils only":
            return specific_charge_from_arc(voltage, abs(flux), knobs.x, seen.value)
        case "null":
            return specific_charge_from_null(voltage, -s * seen.value / tube.plate_gap, flux)
        case "axial focus":
            found = root * tube.coil_constant * abs(seen.value)
            return specific_charge_from_focus(voltage, found, knobs.length, knobs.turns)
        case "turn-back":
            return specific_charge_from_turn_back(voltage, field, flux, seen.value)
        case "plates only":
            speed = speed_from_voltage(voltage)
            along = max(knobs.x - tube.plate_start, 0.0)
            return seen.value / height_beyond_plates(along, tube.plate_length, speed, field)


def _height(tracer: Tracer, tube: Tube, knobs: Knobs, viewing: Viewing) -> float:
    path = tracer.path(
        tube,
        knobs.accelerating_voltage,
        knobs.plate_voltage,
        knobs.coil_current,
        lit_at=knobs.x,
    )
    return viewing.read_height(path.height_at(knobs.x))


def _null(tracer: Tracer, tube: Tube, knobs: Knobs, viewing: Viewing) -> float:
    speed = speed_from_voltage(knobs.accelerating_voltage)
    guess = null_plate_voltage(speed, tube.coil_constant * knobs.coil_current, tube.plate_gap)

    def misfit(voltage: float) -> float:
        path = tracer.path(
            tube, knobs.accelerating_voltage, voltage, knobs.coil_current, lit_at=knobs.x
        )
        return viewing.read_height(path.height_at(knobs.x))

    return _nearest_root(misfit, guess)


def _diameter(tracer: Tracer, tube: Tube, knobs: Knobs, viewing: Viewing) -> float:
    path = tracer.path(tube, knobs.accelerating_voltage, 0.0, knobs.coil_current)
    return viewing.read_length(abs(path.far_height()))


def _focus(tracer: Tracer, tube: Tube, knobs: Knobs, _: Viewing) -> float:
    speed = speed_from_voltage(knobs.accelerating_voltage)
    guess = focus_flux_density(speed, knobs.length, turns=knobs.turns) / tube.coil_constant

    def misfit(current: float) -> float:
        return tracer.turns(tube, knobs.accelerating_voltage, current, knobs.length) - knobs.turns

    return _nearest_root(misfit, guess)


def _depth(tracer: Tracer, tube: Tube, knobs: Knobs, viewing: Viewing) -> float:
    path = tracer.turning_path(
        tube, knobs.accelerating_voltage, knobs.plate_voltage, knobs.coil_current
    )
    return viewing.read_height(path.far_height())


_OBSERVERS: Final = MappingProxyType[Method, Observe](
    {
        "plates only": _height,
        "coils only": _height,
        "null": _null,
        "circle": _diameter,
        "axial focus": _focus,
        "turn-back": _depth,
    }
)


def _nearest_root(misfit: Callable[[float], float], guess: float) -> float:
    """Find the root nearest to a guess; NaN if there is none around it."""
    tried = [guess * (1 + _SEARCH * n / _HALF) for n in range(-_HALF, _HALF + 1)]
    found = [misfit(value) for value in tried]
    brackets = [
        (a, b)
        for a, b, low, high in zip(tried, tried[1:], found, found[1:], strict=False)
        if low * high <= 0
    ]
    if not brackets:
        return math.nan
    nearest = min(brackets, key=lambda ends: abs(ends[0] + ends[1] - 2 * guess))
    return float(optimize.brentq(misfit, *nearest, rtol=1e-12))
