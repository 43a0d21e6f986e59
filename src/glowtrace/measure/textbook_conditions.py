"""Closed forms of the `ideal` model as conditions on readings: uniform fields, sharp edges.

Each function takes the tube and true readings (r,) by column, and gives what should be zero (r, c),
in m. They rest on `glowtrace.demos`, relativity included.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.demos.circle import gyration_radius
from glowtrace.demos.helix import helix_pitch
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.demos.null import null_plate_voltage
from glowtrace.demos.parabola import height_beyond_plates
from glowtrace.demos.trochoid import trochoid
from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import Method
from glowtrace.measure.tube import Readings, Tube

Array = NDArray[np.float64]
Conditions = Callable[[Tube, Readings], Array]


def speeds(tube: Tube, readings: Readings) -> Array:
    """Speed (r,) in m/s behind the aperture."""
    voltage = readings["accelerating_voltage"] + tube.contact_offset
    return speed_from_voltage(voltage, specific_charge=tube.specific_charge)


def momenta(tube: Tube, readings: Readings) -> Array:
    """Radius times flux density (r,) in T m of the circle that each row's electron flies."""
    return gyration_radius(speeds(tube, readings), 1.0, specific_charge=tube.specific_charge)


def pair_flux(tube: Tube, readings: Readings) -> Array:
    """B_z (r,) in T of a coil pair, with Earth's part."""
    flux: Array = (
        tube.coil_constant * (readings["coil_current"] + tube.current_offset) + tube.earth_z
    )
    return flux


def long_coil_flux(tube: Tube, readings: Readings) -> Array:
    """B_x (r,) in T of a long coil, with Earth's part."""
    flux: Array = (
        tube.coil_constant * (readings["coil_current"] + tube.current_offset) + tube.earth_x
    )
    return flux


def height_on_axis(tube: Tube, readings: Readings) -> Array:
    """Height (r,) in m over the beam's axis that a height on the grid stands for.

    Not for a null: it is judged against the line without deflection, wherever the grid has that.
    """
    height: Array = readings["y"] - tube.grid_shift - tube.grid_tilt * readings["x"]
    return height


def _plates_only(tube: Tube, readings: Readings) -> Array:
    x = np.maximum(readings["x"] - tube.plate_start, 0.0)
    field = -(readings["plate_voltage"] + tube.plate_offset) / tube.plate_gap
    model = np.empty_like(x)
    flights = np.stack([speeds(tube, readings), field], axis=1)
    # Points of one trace follow each other, and share speed and field.
    new = np.flatnonzero(np.any(np.diff(flights, axis=0) != 0, axis=1)) + 1
    for first, last in itertools.pairwise((0, *new.tolist(), len(x))):
        speed, strength = flights[first].tolist()
        model[first:last] = height_beyond_plates(
            x[first:last],
            tube.plate_length,
            speed,
            strength,
            specific_charge=tube.specific_charge,
        )
    misfit: Array = height_on_axis(tube, readings) - model
    return misfit[:, None]


def _coils_only(tube: Tube, readings: Readings) -> Array:
    curvature = pair_flux(tube, readings) / momenta(tube, readings)
    x, y = readings["x"], height_on_axis(tube, readings)
    # Distance from the circle, written so that it holds for a straight line as well.
    distance: Array = (2 * y - curvature * (x**2 + y**2)) / (
        np.hypot(curvature * x, curvature * y - 1.0) + 1.0
    )
    return distance[:, None]


def _null(tube: Tube, readings: Readings) -> Array:
    end = tube.plate_start + tube.plate_length
    x = np.where(np.isnan(readings["x"]), end, readings["x"])
    voltage = readings["plate_voltage"] + tube.plate_offset
    flux = pair_flux(tube, readings)
    straight = null_plate_voltage(1.0, 1.0, tube.plate_gap) * speeds(tube, readings) * flux
    # How far the trace rises at x for each volt too much: turns volts into a height to be judged.
    within = np.clip(x - tube.plate_start, 0.0, tube.plate_length)
    lever = within * (x - tube.plate_start - within / 2)
    accelerating = readings["accelerating_voltage"] + tube.contact_offset
    rise = (voltage - straight) * lever / (2 * tube.plate_gap * accelerating)
    misfit: Array = readings["y"] - rise
    return misfit[:, None]


def _circle(tube: Tube, readings: Readings) -> Array:
    diameter = 2 * momenta(tube, readings) / np.abs(pair_flux(tube, readings))
    misfit: Array = readings["diameter"] - diameter
    return misfit[:, None]


def _axial_focus(tube: Tube, readings: Readings) -> Array:
    speed = speeds(tube, readings)
    pitch = np.array(
        [
            helix_pitch(float(v), 0.0, float(b), specific_charge=tube.specific_charge)
            for v, b in zip(speed, long_coil_flux(tube, readings), strict=True)
        ]
    )
    misfit: Array = readings["length"] + tube.focus_shift - readings["turns"] * pitch
    return misfit[:, None]


def _turn_back(tube: Tube, readings: Readings) -> Array:
    field = -(readings["plate_voltage"] + tube.plate_offset) / tube.plate_gap
    flux = pair_flux(tube, readings)
    misfits = np.full((len(flux), 2), np.nan)
    for n, speed in enumerate(speeds(tube, readings)):
        try:
            model = trochoid(
                float(speed),
                float(field[n]),
                float(flux[n]),
                specific_charge=tube.specific_charge,
            )
        except GlowtraceError:
            continue  # nothing turns back at these fields: no condition can be met
        misfits[n] = readings["depth"][n] - model.depth, readings["pitch"][n] - model.pitch
    return misfits


TEXTBOOK_CONDITIONS: Final = MappingProxyType[Method, Conditions](
    {
        "plates only": _plates_only,
        "coils only": _coils_only,
        "null": _null,
        "circle": _circle,
        "axial focus": _axial_focus,
        "turn-back": _turn_back,
    }
)
"""The conditions of each method."""
