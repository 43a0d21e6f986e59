"""Faults of the coils and their leads."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from glowtrace.bench.model import Bench, CoilPair
from glowtrace.bench.settings import Settings
from glowtrace.faults.condition import Condition, Displacement
from glowtrace.faults.fault import OFF_FIRST, Change, Fault, Scene

_TURN = math.radians(10.0), math.radians(30.0)
"""Tilt of coils that stand badly, rad."""
_BULB_TURN = math.radians(4.0), math.radians(25.0)
"""Turn of a bulb about the vertical, rad."""
_SAG = 0.03, 0.15
"""Part of the current that is lost: copper has 0.39 % more resistance for each kelvin (IEC 60028,
from memory), and coils become 10 to 40 K warmer in a lesson (common practice, no source)."""
_SHIFT = 0.010, 0.040
"""Shift of such coils, m."""


def _has_coils(bench: Bench, settings: Settings) -> bool:
    return bench.coils is not None and bench.supplies.coils is not None


def _carries_current(bench: Bench, settings: Settings) -> bool:
    return _has_coils(bench, settings) and settings.coil_current > 0.0


def _has_pair(bench: Bench, settings: Settings) -> bool:
    return _has_coils(bench, settings) and isinstance(bench.coils, CoilPair)


def _has_bulb_and_pair(bench: Bench, settings: Settings) -> bool:
    return _has_pair(bench, settings) and bench.plane.glows


def _has_aiding_pair(bench: Bench, settings: Settings) -> bool:
    coils = bench.coils
    return _has_pair(bench, settings) and isinstance(coils, CoilPair) and coils.sense == "aiding"


def _all_reversed(scene: Scene, rng: np.random.Generator) -> Change:
    def change(condition: Condition) -> Condition:
        tail, tip = condition.coils
        return replace(condition, coils=(-tail, -tip))

    return change


def _one_scaled(factor: float, rng: np.random.Generator) -> Change:
    first = bool(rng.integers(2))

    def change(condition: Condition) -> Condition:
        tail, tip = condition.coils
        coils = (factor * tail, tip) if first else (tail, factor * tip)
        return replace(condition, coils=coils)

    return change


def _one_reversed(scene: Scene, rng: np.random.Generator) -> Change:
    return _one_scaled(-1.0, rng)


def _one_dead(scene: Scene, rng: np.random.Generator) -> Change:
    return _one_scaled(0.0, rng)


def _in_parallel(scene: Scene, rng: np.random.Generator) -> Change:
    """The current that the supply gives and its meter shows is shared by the two coils."""

    def change(condition: Condition) -> Condition:
        tail, tip = condition.coils
        return replace(condition, coils=(0.5 * tail, 0.5 * tip))

    return change


def _no_current(scene: Scene, rng: np.random.Generator) -> Change:
    return lambda condition: replace(condition, coils=(0.0, 0.0), meter_coils=0.0)


def _warming(scene: Scene, rng: np.random.Generator) -> Change:
    sag = float(rng.uniform(*_SAG))

    def change(condition: Condition) -> Condition:
        tail, tip = condition.coils
        warm = (1.0 - sag) * tail, (1.0 - sag) * tip
        return replace(condition, coils=warm, sag=sag, meter_coils=1.0 - sag)

    return change


def _out_of_place(scene: Scene, rng: np.random.Generator) -> Change:
    tilts = rng.choice([-1.0, 1.0], 2) * rng.uniform(*_TURN, 2)
    about_x, about_y = tilts * rng.permutation([1.0, rng.random()])
    direction = rng.normal(size=3)
    x, y, z = direction / np.linalg.norm(direction) * rng.uniform(*_SHIFT)
    moved = Displacement(float(about_x), float(about_y), (float(x), float(y), float(z)))
    return lambda condition: replace(condition, displacement=moved)


def _bulb_turned(scene: Scene, rng: np.random.Generator) -> Change:
    """The tube sees its coils turned the other way round."""
    turned = Displacement(tilt_y=float(rng.choice([-1.0, 1.0]) * rng.uniform(*_BULB_TURN)))
    return lambda condition: replace(condition, displacement=turned)


COIL_FAULTS: Final = (
    Fault(
        key="coil leads swapped",
        title="the leads of the coils are swapped",
        group="coils",
        odds=8.0,
        why="Both coils carry their current the other way, so the line bends the wrong way.",
        remedy=f"{OFF_FIRST} exchange the two leads at the coil supply.",
        applies=_has_pair,
        draw=_all_reversed,
        draws=0.5,
    ),
    Fault(
        key="coils opposing",
        title="one coil is reversed: the two coils oppose each other",
        group="coils",
        odds=5.0,
        why="The lead between the coils goes to the wrong terminal of one of them; the two fields "
        "cancel in the middle.",
        remedy=f"{OFF_FIRST} exchange the two leads of one coil only.",
        applies=_has_aiding_pair,
        draw=_one_reversed,
        draws=0.5,
    ),
    Fault(
        key="one coil dead",
        title="one coil carries no current",
        group="coils",
        odds=3.0,
        why="One coil of the pair is bridged, shorted or left out, and the other works alone: "
        "about half the field.",
        remedy=f"{OFF_FIRST} connect both coils in series as in the wiring list; have a coil that "
        "stays dead repaired.",
        applies=_has_pair,
        draw=_one_dead,
        draws=0.5,
    ),
    Fault(
        key="coils parallel",
        title="the coils are connected in parallel instead of in series",
        group="coils",
        odds=4.0,
        why="The current that the meter shows is shared: each coil carries half of it, and the "
        "field is half as strong.",
        remedy=f"{OFF_FIRST} connect both coils in series as in the wiring list, so that the whole "
        "current passes through one and then the other.",
        applies=_has_pair,
        draw=_in_parallel,
        draws=0.5,
    ),
    Fault(
        key="no coil current",
        title="no current flows in the coils",
        group="coils",
        odds=5.0,
        why="The coil supply is off, its fuse is gone, or a lead of the coils is loose.",
        remedy=f"{OFF_FIRST} check coil supply, fuse and leads against the wiring list.",
        applies=_has_coils,
        draw=_no_current,
        draws=0.5,
    ),
    Fault(
        key="coils warming",
        title="the coils warm up, and their current falls",
        group="coils",
        odds=3.0,
        why="Warm copper has more resistance: a supply that holds its voltage gives less and less "
        "current, and the picture creeps for minutes.",
        remedy="Read the meter and set the current again before each reading; a supply that holds "
        "the current needs none of it. Leave the coils off between readings.",
        applies=_carries_current,
        draw=_warming,
    ),
    Fault(
        key="coils out of place",
        title="the coils stand tilted or shifted against the tube",
        group="coils",
        odds=4.0,
        why="The coils were knocked or set up askew, so that their field is tilted and weaker.",
        remedy=f"{OFF_FIRST} set the coils upright and centred on the tube again.",
        applies=_has_coils,
        draw=_out_of_place,
    ),
    Fault(
        key="bulb turned",
        title="the bulb is turned in its holder",
        group="coils",
        odds=5.0,
        why="The beam does not leave the gun square to the field of the coils: what moves along "
        "the field is not turned back, and the circle runs out sideways as a helix.",
        remedy=f"{OFF_FIRST} turn the tube a little in its holder, and try again, until the circle "
        "closes.",
        applies=_has_bulb_and_pair,
        draw=_bulb_turned,
    ),
)
