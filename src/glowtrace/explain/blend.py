"""One electron through fields that are partly the textbook's and partly the bench's.

Each difference between the two models can be switched on by itself: the plates' real field instead
of a uniform one with sharp edges, the potential at which the plates stand, the coils' real field,
Earth's field, the growth of the moving mass. With all of them off the electron is the textbook's
slow one, with all of them on it is that of the bench model. The tracer of the bench flies through
one or the other kind of field only; here a general integrator of scipy flies through any blend.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.electron import Field, Launch, fields_at, launched
from glowtrace.bench.ideal import IdealFields, ideal_fields
from glowtrace.bench.layout import electrode_voltages
from glowtrace.bench.path import Path, nowhere
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.demos.walls import anode, glass

Array = NDArray[np.float64]
Effect = Literal["plates", "tie", "coils", "earth", "mass"]
EFFECTS: tuple[Effect, ...] = ("plates", "tie", "coils", "earth", "mass")
_LONGEST = 0.4
"""Length of path in m that is followed in a vacuum tube, from the aperture on."""
_POINTS = 400
_ACCURACY = 1e-9
"""Relative error of a step, and its error of position in m."""


def active_effects(prepared: PreparedBench, settings: Settings) -> tuple[Effect, ...]:
    """Give the differences that this bench at these settings can have at all."""
    bench = prepared.bench
    has_plates = bench.plates is not None and settings.plate_voltage != 0.0
    present = {
        "plates": has_plates,
        "tie": has_plates and settings.plate_tie != "symmetric",
        "coils": bench.coils is not None and settings.coil_current != 0.0,
        "earth": bool(prepared.earth.any()),
        "mass": True,
    }
    return tuple(effect for effect in EFFECTS if present[effect])


def blended_path(
    prepared: PreparedBench, settings: Settings, effects: frozenset[Effect], launch: Launch
) -> Path:
    """Follow an electron through the textbook's fields with some differences switched on.

    Parameters
    ----------
    prepared, settings
        The bench and its knobs.
    effects
        What is as on the bench; the rest is as in the textbook. "tie" needs "plates".
    launch
        How the electron leaves the aperture.

    Returns
    -------
    Path
        Up to where it meets a plate, the anode or the glass, or after 40 cm (in gas, after once
        round the glass); without any points where no electron leaves the gun.
    """
    from scipy.integrate import solve_ivp  # late: it is slow to load

    table = _table(prepared, settings, effects)
    sharp = ideal_fields(prepared.bench, settings)
    grows = "mass" in effects
    states = launched(table, settings.voltage_on_beam, [launch], mass_grows=grows)
    if states is None:
        return nowhere()
    longest = _LONGEST
    if prepared.plane.glows:
        longest = 2.0 * math.pi * prepared.bench.envelope.radius
    start = states[0]
    speed = float(np.linalg.norm(_velocity(start[3:], grows)))
    solution = solve_ivp(
        _motion(table, sharp, effects),
        (0.0, longest / speed),
        start,
        method="DOP853",
        rtol=_ACCURACY,
        atol=[_ACCURACY] * 3 + [_ACCURACY * speed] * 3,
        max_step=0.02 * longest / speed,
        events=_meeting(prepared),
        dense_output=True,
    )
    assert solution.sol is not None  # as a dense output was asked for
    time = np.linspace(0.0, solution.t[-1], _POINTS)
    states = solution.sol(time).T
    return Path(
        time=time,
        position=np.ascontiguousarray(states[:, :3]),
        velocity=np.stack([_velocity(moving, grows) for moving in states[:, 3:]]),
        end="met something" if solution.status == 1 else "still flying",
    )


def _velocity(moving: Array, grows: bool) -> Array:
    """Velocity (3,) in m/s from gamma v, or from v where the mass does not grow."""
    return moving / math.sqrt(1.0 + float(moving @ moving) / SPEED_OF_LIGHT**2) if grows else moving


def _table(prepared: PreparedBench, settings: Settings, effects: frozenset[Effect]) -> Field:
    """Give the part of the fields that is the bench's."""
    plates: tuple[float, ...] = (0.0, 0.0)
    if "plates" in effects:
        tie = settings.plate_tie if "tie" in effects else "symmetric"
        plates = electrode_voltages(settings.model_copy(update={"plate_tie": tie}))
    current = settings.signed_coil_current if "coils" in effects else 0.0
    earth = prepared.earth if "earth" in effects else np.zeros(3)
    return prepared.fields.field(plates[: len(prepared.fields.names)], current, earth)


def _motion(
    table: Field, sharp: IdealFields, effects: frozenset[Effect]
) -> Callable[[float, Array], Array]:
    """Give the equation of motion in laboratory time for a state (6,)."""
    uniform_electric = np.array(sharp.electric_field) * ("plates" not in effects)
    uniform_flux = np.array(sharp.flux_density) * ("coils" not in effects)
    grows = "mass" in effects

    def motion(time: float, state: Array) -> Array:
        electric, flux, _ = (part[0] for part in fields_at(table, state[None, :3]))
        if sharp.x_from <= state[0] < sharp.x_to:
            electric = electric + uniform_electric
        flux = flux + uniform_flux
        moving = _velocity(state[3:], grows)
        x, y, z = moving
        a, b, c = flux
        turning = np.array([y * c - z * b, z * a - x * c, x * b - y * a])
        return np.concatenate([moving, -SPECIFIC_CHARGE * (electric + turning)])

    return motion


def _meeting(prepared: PreparedBench) -> Callable[[float, Array], float]:
    """Give the event that ends a path: it meets a plate, comes back to the anode, or the glass."""
    bench = prepared.bench
    wall, back = glass(bench.envelope), anode(bench.gun)
    plates = bench.plates

    def meeting(time: float, state: Array) -> float:
        place = state[None, :3]
        room = -float(wall.height(place)[0])
        if state[3] < 0.0 and math.hypot(state[1], state[2]) <= bench.gun.anode_radius:
            room = min(room, float(back.height(place)[0]))
        if plates is not None and plates.start <= state[0] <= plates.start + plates.length:
            room = min(room, plates.gap / 2 - abs(float(state[1]) - plates.height_offset))
        return room

    meeting.terminal = True  # type: ignore[attr-defined]
    meeting.direction = -1.0  # type: ignore[attr-defined]
    return meeting
