"""Checks that turn a knob or change a lead, and watch what the picture does."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.faults.check import Chances, Check, Safety
from glowtrace.faults.fault import OFF_FIRST
from glowtrace.faults.looks import NOTICED, READ_TO, Look, more_than
from glowtrace.faults.suspect import Suspect
from glowtrace.faults.variations import (
    ACCELERATING_VOLTAGE,
    AS_SET,
    COIL_CURRENT,
    COILS_REVERSED,
    FIELDS_OFF,
    ONE_COIL_REVERSED,
    PLATE_VOLTAGE,
    PLATES_REVERSED,
    Variation,
)
from glowtrace.units import format_quantity

Array = NDArray[np.float64]


def move(bench: Bench, state: Variation) -> Check:
    """Give the check that changes the knobs or leads to a variation and watches the picture."""
    do, safety, minutes = _instruction(state)
    if bench.plane.is_spot:
        return Check(state.key, do, safety, minutes, SPOT_OUTCOMES, _spot_chances(state.key))
    return Check(state.key, do, safety, minutes, LINE_OUTCOMES, _line_chances(state.key))


def _instruction(state: Variation) -> tuple[str, Safety, float]:
    back = "Watch the picture, then turn it back."
    now = state.settings
    if state.key == COIL_CURRENT:
        value = format_quantity(now.coil_current, "A")
        way = "down to zero" if now.coil_current == 0.0 else f"up from zero to {value}"
        return f"Turn the coil current slowly {way}. {back}", Safety.SAFE, 1.0
    if state.key == PLATE_VOLTAGE:
        value = format_quantity(now.plate_voltage, "V")
        way = "down to zero" if now.plate_voltage == 0.0 else f"up from zero to {value}"
        return f"Turn the plate voltage slowly {way}. {back}", Safety.SAFE, 1.0
    if state.key == FIELDS_OFF:
        return f"Turn coil current and plate voltage both to zero. {back}", Safety.SAFE, 1.0
    if state.key == ACCELERATING_VOLTAGE:
        value = format_quantity(now.accelerating_voltage, "V")
        return f"Turn the accelerating voltage down to {value}. {back}", Safety.SAFE, 1.0
    again = (
        "Connect everything, step back, switch on again as before and watch the picture. "
        f"{OFF_FIRST} put back what did not help."
    )
    if state.key == COILS_REVERSED:
        what = "exchange the two leads at the coil supply"
    elif state.key == ONE_COIL_REVERSED:
        what = "exchange the two leads of one coil only"
    elif state.key == PLATES_REVERSED:
        what = "exchange the leads of the two plates"
    else:
        what = "turn the whole tube with its coils by a quarter turn about the vertical"
        return f"{OFF_FIRST} {what}. {again}", Safety.LEAD, 8.0
    return f"{OFF_FIRST} {what}. {again}", Safety.LEAD, 6.0


LINE_OUTCOMES: Final = (
    "line moves up",
    "line moves down",
    "line does not move",
    "line goes out",
    "a line appears",
    "still no line",
)
SPOT_OUTCOMES: Final = (
    "spot grows",
    "spot shrinks",
    "spot moves aside",
    "spot does not change",
    "spot goes out",
    "a spot appears",
    "still no spot",
)


def _line_chances(key: str) -> Chances:
    def chances(suspect: Suspect) -> Array:
        before, after = suspect.looks[AS_SET], suspect.looks[key]
        both = before.lit * after.lit
        moved = after.lift - before.lift
        up = both * more_than(moved, NOTICED, READ_TO)
        down = both * more_than(-moved, NOTICED, READ_TO)
        return np.stack([up, down, both - up - down, *_light_changes(before, after)], axis=1)

    return chances


def _spot_chances(key: str) -> Chances:
    def chances(suspect: Suspect) -> Array:
        before, after = suspect.looks[AS_SET], suspect.looks[key]
        both = before.lit * after.lit
        ratio = np.log(np.maximum(after.width, 1e-4) / np.maximum(before.width, 1e-4))
        grows = both * more_than(ratio, 0.3, 0.1)
        shrinks = both * more_than(-ratio, 0.3, 0.1)
        aside = np.linalg.norm(after.centre - before.centre, axis=1)
        moves = (both - grows - shrinks) * more_than(aside, NOTICED, READ_TO)
        stays = both - grows - shrinks - moves
        return np.stack([grows, shrinks, moves, stays, *_light_changes(before, after)], axis=1)

    return chances


def _light_changes(before: Look, after: Look) -> tuple[Array, Array, Array]:
    goes_out = before.lit * (1.0 - after.lit)
    appears = (1.0 - before.lit) * after.lit
    return goes_out, appears, (1.0 - before.lit) * (1.0 - after.lit)
