"""What comes from the room and from the tube itself: magnets, Earth's field, charge, gas."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from glowtrace.bench.known_fields import earth_at
from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.constants import VACUUM_PERMEABILITY
from glowtrace.faults.condition import Condition, Magnet, Patch
from glowtrace.faults.fault import OFF_FIRST, Change, Fault, Scene

_MAGNET = 5e-5, 5e-4
"""Flux density of a magnet at the middle of the tube, T."""
_MAGNET_AWAY = 0.15, 0.40
"""Its distance from there, m."""
_PATCH = 0.05, 0.5
"""Potential of a charged patch as a part of the accelerating voltage."""
_LEFT, _LEFT_IN_BULB = (0.15, 0.6), (0.1, 0.45)
"""Light that is left, as a part of the usual."""
_SCATTER = math.radians(1.0), math.radians(5.0)


def _magnet(scene: Scene, rng: np.random.Generator) -> Change:
    direction, axis = rng.normal(size=(2, 3))
    place = direction / np.linalg.norm(direction) * rng.uniform(*_MAGNET_AWAY)
    wanted = math.exp(rng.uniform(math.log(_MAGNET[0]), math.log(_MAGNET[1])))
    distance = float(np.linalg.norm(place))
    axis /= np.linalg.norm(axis)
    along = float(axis @ place) / distance
    at_tube = VACUUM_PERMEABILITY / (4.0 * math.pi * distance**3) * math.sqrt(3.0 * along**2 + 1.0)
    x, y, z = (wanted / at_tube * axis).tolist()
    px, py, pz = place.tolist()
    magnet = Magnet((px, py, pz), (x, y, z))
    return lambda condition: replace(condition, magnet=magnet)


def _heading(scene: Scene, rng: np.random.Generator) -> Change:
    heading = float(rng.uniform(0.0, 2.0 * math.pi))
    x, y, z = earth_at(scene.bench.place, heading).tolist()
    return lambda condition: replace(condition, room_flux=(x, y, z))


def _charged(scene: Scene, rng: np.random.Generator) -> Change:
    """A patch of charge, negative in three of four draws, above or below the beam's path."""
    plane = scene.bench.plane
    last, half = plane.x_to, plane.heights[1]
    if plane.glows:
        first, half = 0.0, float(scene.bench.envelope.radius)
    else:
        first = plane.x_from if plane.is_line else last / 2
    x = float(first + rng.uniform(0.3, 0.95) * (last - first))
    angle = rng.choice([0.5, 1.5]) * math.pi + rng.uniform(-0.6, 0.6)
    away = rng.uniform(0.5, 1.0) * half
    place = (x, float(away * math.sin(angle)), float(away * math.cos(angle)))
    part = (1.0 if rng.random() < 0.25 else -1.0) * rng.uniform(*_PATCH)
    potential = float(part * scene.settings.accelerating_voltage)
    size = float(rng.uniform(0.008, 0.02))
    patch = Patch(place, potential, size)
    return lambda condition: replace(condition, patch=patch)


def _gas(scene: Scene, rng: np.random.Generator) -> Change:
    scatter = float(rng.uniform(*_SCATTER))
    is_bulb = scene.bench.plane.glows
    left = float(rng.uniform(*(_LEFT_IN_BULB if is_bulb else _LEFT)))
    haze = 0.0 if is_bulb else float(rng.uniform(0.4, 1.0))

    def change(condition: Condition) -> Condition:
        return replace(condition, scatter=scatter, emission=left * condition.emission, haze=haze)

    return change


def _always(bench: Bench, settings: Settings) -> bool:
    return True


SURROUNDING_FAULTS: Final = (
    Fault(
        key="magnet nearby",
        title="a magnet or steel is near the tube",
        group="surroundings",
        odds=4.0,
        why="A loudspeaker, a magnet in a drawer, a steel frame or a transformer adds a field of "
        "its own. It is computed as one small magnet at 15 to 40 cm; how steel bends the field of "
        "the coils is not.",
        remedy=f"{OFF_FIRST} move magnets, loudspeakers and steel a metre or more away.",
        applies=_always,
        draw=_magnet,
        draws=6.0,
        between=0.3,
    ),
    Fault(
        key="heading",
        title="the tube stands wrongly to Earth's field",
        group="surroundings",
        odds=3.0,
        why="Earth's field bends the beam by an amount that depends on where the tube points.",
        remedy=f"{OFF_FIRST} turn the whole tube about the vertical, and try again, until the "
        "picture with every field turned to zero is where it should be.",
        applies=_always,
        draw=_heading,
    ),
    Fault(
        key="charged screen",
        title="screen or glass has charged up",
        group="surroundings",
        odds=2.0,
        why="Electrons that land on an insulator stay there and push the beam away; the picture "
        "creeps for minutes.",
        remedy="Turn the high tension down, wait some minutes, and go on with less beam current. "
        "Wipe nothing and touch nothing.",
        applies=_always,
        draw=_charged,
        draws=5.0,
        between=0.3,
    ),
    Fault(
        key="gas",
        title="the gas in the tube is not as it should be",
        group="surroundings",
        odds=2.0,
        why="A vacuum tube that has drawn air scatters its beam and glows all over; a bulb that "
        "has lost its gas shows a faint, broad line.",
        remedy=f"{OFF_FIRST} let the person responsible replace the tube.",
        applies=_always,
        draw=_gas,
        draws=1.5,
    ),
)
