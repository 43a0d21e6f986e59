"""The settings beside those in use at which the suspects are looked at too.

A fault shows as much in how the picture answers to a knob as in the picture itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.model import Bench, CoilPair
from glowtrace.bench.ratings import check_settings, knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.constants import ELEMENTARY_CHARGE
from glowtrace.demos.kinematics import momentum_from_voltage

AS_SET: Final = "as set"
COIL_CURRENT: Final = "coil current"
COILS_REVERSED: Final = "coils reversed"
ONE_COIL_REVERSED: Final = "one coil reversed"
PLATE_VOLTAGE: Final = "plate voltage"
PLATES_REVERSED: Final = "plates reversed"
FIELDS_OFF: Final = "coils and plates off"
ACCELERATING_VOLTAGE: Final = "accelerating voltage"
QUARTER_TURN: Final = "quarter turn"

_LIFT = 0.012
"""Lift in m that a knob turned up from zero is meant to make."""
_REACH = 0.07
_PLATE_SHARE = 0.25
_LOWER = 0.7
"""Part to which a check lowers the accelerating voltage; none ever raises it."""


@dataclass(frozen=True)
class Variation:
    """One state of the knobs and leads.

    Attributes
    ----------
    key
        Its name.
    settings
        What knobs and meters say then.
    turned
        By how much the whole tube is turned about the vertical, rad.
    swaps_one_coil
        Whether the leads of one coil of the pair are exchanged against those in use.
    """

    key: str
    settings: Settings
    turned: float = 0.0
    swaps_one_coil: bool = False


def variations(bench: Bench, settings: Settings) -> tuple[Variation, ...]:
    """Give the states that the suspects are looked at in; the first is the one in use."""
    found = [Variation(AS_SET, settings)]
    if bench.coils and bench.supplies.coils:
        found += _of_coils(bench, settings)
    if bench.plates and (bench.supplies.plates or settings.plate_source == "accelerating supply"):
        found += _of_plates(bench, settings)
    if settings.coil_current > 0.0 and settings.plate_voltage > 0.0:
        off = _with(settings, coil_current=0.0, plate_voltage=0.0)
        found.append(Variation(FIELDS_OFF, off))
    found += _of_gun(bench, settings)
    found.append(Variation(QUARTER_TURN, settings, turned=math.pi / 2))
    return tuple(found)


def state_at_rest(settings: Settings) -> str:
    """Give the key of the state in which neither coils nor plates act on the beam."""
    if settings.coil_current > 0.0:
        return FIELDS_OFF if settings.plate_voltage > 0.0 else COIL_CURRENT
    return PLATE_VOLTAGE if settings.plate_voltage > 0.0 else AS_SET


def _of_coils(bench: Bench, settings: Settings) -> list[Variation]:
    if settings.coil_current == 0.0:
        current = _trial_current(bench, settings)
        return [Variation(COIL_CURRENT, _with(settings, coil_current=current))] if current else []
    found = [Variation(COIL_CURRENT, _with(settings, coil_current=0.0))]
    if isinstance(bench.coils, CoilPair):
        turned = _with(settings, coil_reversed=not settings.coil_reversed)
        found += [
            Variation(COILS_REVERSED, turned),
            Variation(ONE_COIL_REVERSED, settings, swaps_one_coil=True),
        ]
    return found


def _of_plates(bench: Bench, settings: Settings) -> list[Variation]:
    if settings.plate_voltage == 0.0:
        volts = min(
            _PLATE_SHARE * settings.accelerating_voltage, knob_ranges(bench)["plate_voltage"].high
        )
        up = _with(settings, plate_voltage=float(f"{volts:.1e}"))
        return [] if check_settings(bench, up) else [Variation(PLATE_VOLTAGE, up)]
    tie = settings.plate_tie
    if settings.plate_source == "accelerating supply":
        # The plate that is not at the anode is always the negative one there.
        tie = "upper at anode" if tie == "lower at anode" else "lower at anode"
    turned = _with(settings, plate_reversed=not settings.plate_reversed, plate_tie=tie)
    return [
        Variation(PLATE_VOLTAGE, _with(settings, plate_voltage=0.0)),
        Variation(PLATES_REVERSED, turned),
    ]


def _of_gun(bench: Bench, settings: Settings) -> list[Variation]:
    volts = settings.accelerating_voltage
    wanted = float(f"{_LOWER * volts:.2g}")
    if volts == 0.0 or wanted < knob_ranges(bench)["accelerating_voltage"].low:
        return []
    return [Variation(ACCELERATING_VOLTAGE, _with(settings, accelerating_voltage=wanted))]


def _trial_current(bench: Bench, settings: Settings) -> float:
    """Give a current in A, rounded, that moves the picture well; 0 where none does."""
    per_ampere = math.hypot(*flux_density_per_ampere(bench))
    high = knob_ranges(bench)["coil_current"].high
    momentum = momentum_from_voltage(settings.accelerating_voltage) / ELEMENTARY_CHARGE  # T m
    if per_ampere == 0.0 or momentum == 0.0:
        return float(f"{0.3 * high:.1e}")
    if bench.plane.is_spot and not isinstance(bench.coils, CoilPair):
        wanted = 2.0 * math.pi * momentum / bench.plane.x_to / per_ampere
    else:
        wanted = momentum * 2.0 * _LIFT / _REACH**2 / per_ampere
    return float(f"{min(wanted, high):.1e}") if min(wanted, high) == wanted else high


def _with(settings: Settings, **changes: object) -> Settings:
    return settings.model_copy(update=changes)
