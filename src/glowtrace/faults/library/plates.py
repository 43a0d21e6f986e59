"""Faults of the deflection plates and their leads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.faults.condition import Condition
from glowtrace.faults.fault import OFF_FIRST, Change, Fault, Scene

_CHARGED = 0.3
"""Largest negative potential that electrons give to a floating plate, as a part of V_a."""


def _has_plates(bench: Bench, settings: Settings) -> bool:
    return bench.plates is not None


def _swapped(scene: Scene, rng: np.random.Generator) -> Change:
    def change(condition: Condition) -> Condition:
        upper, lower = condition.plates
        return replace(condition, plates=(lower, upper))

    return change


def _one_floating(scene: Scene, rng: np.random.Generator) -> Change:
    """One plate takes the potential at which it carries no charge, or a negative one.

    Stray electrons land on it and cannot leave; how far it goes down nobody knows: half of the
    draws keep it without charge, the others draw evenly from 0 to `_CHARGED` of V_a.
    """
    is_upper = bool(rng.integers(2))
    charged = float(rng.integers(2)) * rng.uniform(0.0, _CHARGED)
    from_lower, from_upper = scene.induced

    def change(condition: Condition) -> Condition:
        upper, lower = condition.plates
        down = charged * max(condition.accelerating_voltage, 0.0)
        plates = (
            (from_lower * lower - down, lower) if is_upper else (upper, from_upper * upper - down)
        )
        return replace(condition, plates=plates)

    return change


def _together(scene: Scene, rng: np.random.Generator) -> Change:
    which = int(rng.integers(3))

    def change(condition: Condition) -> Condition:
        potential = (*condition.plates, 0.0)[which]
        return replace(condition, plates=(potential, potential))

    return change


def _supply_off(scene: Scene, rng: np.random.Generator) -> Change:
    return lambda condition: replace(condition, plates=(0.0, 0.0), meter_plates=0.0)


def _has_own_supply(bench: Bench, settings: Settings) -> bool:
    own = bench.supplies.plates is not None and settings.plate_source == "own supply"
    return _has_plates(bench, settings) and own


def _wrong_terminal(scene: Scene, rng: np.random.Generator) -> Change:
    """One plate hangs on the cathode's or on the anode's terminal instead of its own."""
    choices: list[Callable[[Condition], tuple[float, float]]] = [
        lambda condition: (-condition.accelerating_voltage, condition.plates[1]),
        lambda condition: (condition.plates[0], -condition.accelerating_voltage),
    ]
    if scene.settings.plate_tie == "symmetric":
        choices += [
            lambda condition: (0.0, condition.plates[1]),
            lambda condition: (condition.plates[0], 0.0),
        ]
    chosen = choices[int(rng.integers(len(choices)))]
    return lambda condition: replace(condition, plates=chosen(condition))


PLATE_FAULTS: Final = (
    Fault(
        key="plates swapped",
        title="the leads of the plates are swapped",
        group="plates",
        odds=8.0,
        why="The upper plate has the lower one's lead, so the line bends the wrong way.",
        remedy=f"{OFF_FIRST} exchange the leads of the two plates.",
        applies=_has_plates,
        draw=_swapped,
        draws=0.5,
    ),
    Fault(
        key="plate floating",
        title="one plate floats: its lead is loose",
        group="plates",
        odds=5.0,
        why="A plate without a lead takes a potential between its neighbours', or a negative one "
        "from electrons that land on it.",
        remedy=f"{OFF_FIRST} fasten the leads of both plates.",
        applies=_has_plates,
        draw=_one_floating,
        draws=1.5,
    ),
    Fault(
        key="plates joined",
        title="both plates have the same potential",
        group="plates",
        odds=2.0,
        why="Both leads are on one terminal: no field between the plates, although the supply's "
        "meter shows its voltage.",
        remedy=f"{OFF_FIRST} connect each plate to its own terminal, as in the wiring list.",
        applies=_has_plates,
        draw=_together,
        draws=0.5,
    ),
    Fault(
        key="plate supply off",
        title="the supply of the plates is off",
        group="plates",
        odds=4.0,
        why="It is not switched on, its fuse is gone or its knob is at zero: both plates have the "
        "anode's potential, and its meter shows nothing.",
        remedy="Turn its knob to zero, then look whether it is switched on, and at its interlock; "
        f"leave the interlock as it is. {OFF_FIRST} check its fuse and leads.",
        applies=_has_own_supply,
        draw=_supply_off,
        draws=0.5,
    ),
    Fault(
        key="plate at wrong terminal",
        title="one plate is tied to the wrong terminal",
        group="plates",
        odds=3.0,
        why="A plate that hangs on the cathode's terminal, or on the anode's where it should not, "
        "has quite another potential.",
        remedy=f"{OFF_FIRST} check the plates' leads against the wiring list, and the tie.",
        applies=_has_plates,
        draw=_wrong_terminal,
        draws=1.5,
    ),
)
