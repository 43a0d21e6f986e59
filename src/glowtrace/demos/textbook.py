"""The trace that a textbook draws for a bench, with the numbers that go with it.

One electron of the full accelerating voltage, along the axis, through the ideal fields of
`glowtrace.bench.ideal`: no spread, no Earth field, sharp edges. Exact within these assumptions,
relativity included. The ideal model takes no account of the potential at which the plates stand.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import dropwhile
from typing import Literal

import numpy as np

from glowtrace.bench.arguments import require_kind
from glowtrace.bench.ideal import IdealFields, flux_density_per_ampere, ideal_fields
from glowtrace.bench.model import Bench, LongCoil
from glowtrace.bench.settings import Settings
from glowtrace.constants import SPEED_OF_LIGHT
from glowtrace.demos.circle import gyration_radius
from glowtrace.demos.flight import Flight, fly
from glowtrace.demos.helix import focus_flux_density
from glowtrace.demos.kinematics import FloatArray, lorentz_factor_from_voltage, speed_from_voltage
from glowtrace.demos.null import drift_speed, force_ratio, null_flux_density, null_plate_voltage
from glowtrace.demos.trochoid import CrossedRegime, Trochoid, crossed_regime, trochoid
from glowtrace.demos.walls import walls
from glowtrace.errors import GlowtraceError, Problem

Regime = CrossedRegime | Literal["helix"]
NAMING_TOLERANCE = 0.005
"""How close, relatively, a force ratio must come to the null or the cusp to be called so: about
what knobs can be set to, and less than the trace is wide."""


_TROCHOIDS = ("forward trochoid", "cusp", "looping trochoid")


@dataclass(frozen=True, eq=False)
class Textbook:
    """The ideal trace and its numbers; None marks a number that this bench does not have."""

    u: FloatArray
    """(m,) along the picture in m: x / cos(angle) on a sheet, x in a gas glow, z on an end face."""
    v: FloatArray
    """(m,) height in the picture in m."""
    positions: FloatArray
    """(m, 3) the same points in space in m; none if the electron never comes into the picture."""
    end: str
    """"screen", "end of the screen", "upper plate", "lower plate", "anode", "glass" or
    "still flying"."""
    regime: Regime
    """What the fields make of the beam between the plates, or in the tube if there are none."""
    speed: float
    """m/s."""
    fraction_of_light_speed: float
    lorentz_factor: float
    electric_field: float
    """E_y between the plates in V/m; negative pushes the beam up."""
    flux_density: float
    """In T along the coils' axis: B_z of a pair, B_x of a long coil."""
    radius: float | None
    """Radius in m of the circle across the magnetic field; None without one."""
    drift_speed: float | None
    """E_y / B_z in m/s; None unless there is a field along z."""
    force_ratio: float | None
    """Electric over magnetic force on entry, positive where they oppose; None as above."""
    null_plate_voltage: float | None
    """V(upper) - V(lower) in V that straightens the beam at this coil current."""
    null_coil_current: float | None
    """Signed current in A that straightens the beam at this plate voltage."""
    focus_coil_current: float | None
    """Current in A of a long coil that first focuses a narrow beam on the end face."""
    trochoid: Trochoid | None
    """Depth, pitch and speeds of the full trochoid, where the fields make one."""


def textbook_trace(bench: Bench, settings: Settings, samples: int = 200) -> Textbook:
    """Give the trace and the numbers that a textbook has for this bench at these settings.

    Parameters
    ----------
    bench, settings
        What stands on the table and how it is set; ratings are not checked here.
    samples
        Points on the trace, evenly spread in the electron's proper time, 2 or more.

    Returns
    -------
    Textbook
        The part of the path in the frame of the screen, up to the first end.

    Raises
    ------
    GlowtraceError
        If the accelerating voltage is zero, or fewer than 2 samples are asked for.
    """
    require_kind(bench, Bench)
    require_kind(settings, Settings)
    voltage = settings.accelerating_voltage
    if not voltage > 0:
        allowed = "the beam needs more than 0 V"
        raise GlowtraceError(Problem("accelerating voltage", f"{voltage} V", allowed))
    if samples < 2:
        raise GlowtraceError(Problem("samples", str(samples), "ask for 2 or more"))
    speed = speed_from_voltage(voltage)
    fields = ideal_fields(bench, settings)
    positions, end = _trace(bench, fields, speed, samples)
    u, v = bench.plane.coordinates(positions)
    E_y, (B_x, _, B_z) = fields.electric_field[1], fields.flux_density
    regime = _regime(speed, fields)
    B = B_x if isinstance(bench.coils, LongCoil) else B_z
    return Textbook(
        u=u,
        v=v,
        positions=positions,
        end=end,
        regime=regime,
        speed=speed,
        fraction_of_light_speed=speed / SPEED_OF_LIGHT,
        lorentz_factor=lorentz_factor_from_voltage(voltage),
        electric_field=E_y,
        flux_density=B,
        radius=gyration_radius(speed, B) if B else None,
        drift_speed=drift_speed(E_y, B_z) if B_z else None,
        force_ratio=force_ratio(speed, E_y, B_z) if B_z else None,
        null_plate_voltage=_null_plate_voltage(bench, speed, B_z),
        null_coil_current=_null_coil_current(bench, speed, E_y),
        focus_coil_current=_focus_coil_current(bench, speed),
        trochoid=trochoid(speed, E_y, B_z) if regime in _TROCHOIDS else None,
    )


def _trace(bench: Bench, fields: IdealFields, speed: float, samples: int) -> tuple[FloatArray, str]:
    """Positions in the frame of the screen, and the end of the flight."""
    E, B = np.array(fields.electric_field), np.array(fields.flux_density)
    surfaces = walls(bench, fields)
    has_plates = bench.plates is not None

    def fields_on(is_over: tuple[bool, ...]) -> tuple[FloatArray, FloatArray]:
        return (E if has_plates and not is_over[-1] else np.zeros(3)), B

    flight = fly(np.zeros(3), np.array([speed, 0.0, 0.0]), surfaces, fields_on)
    if bench.plane.is_spot:
        return flight.positions(samples), flight.end
    in_picture = tuple(dropwhile(lambda stretch: stretch.is_over[0], flight.stretches))
    if not in_picture:
        return np.empty((0, 3)), flight.end
    return Flight(in_picture, flight.end).positions(samples), flight.end


def _regime(speed: float, fields: IdealFields) -> Regime:
    E_y, (B_x, _, B_z) = fields.electric_field[1], fields.flux_density
    if B_x and E_y:
        return "helix"
    return crossed_regime(speed, E_y, B_z, tolerance=NAMING_TOLERANCE)


def _null_plate_voltage(bench: Bench, speed: float, B_z: float) -> float | None:
    if bench.plates is None or B_z == 0:
        return None
    return null_plate_voltage(speed, B_z, bench.plates.gap)


def _null_coil_current(bench: Bench, speed: float, E_y: float) -> float | None:
    per_ampere = flux_density_per_ampere(bench)[2]
    if per_ampere == 0 or E_y == 0:
        return None
    return null_flux_density(speed, E_y) / per_ampere


def _focus_coil_current(bench: Bench, speed: float) -> float | None:
    per_ampere = flux_density_per_ampere(bench)[0]
    if per_ampere == 0 or not bench.plane.is_spot:
        return None
    return focus_flux_density(speed, bench.plane.x_to) / per_ampere
