"""Faults of heater, high tension, supplies and meters."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.faults.condition import Condition
from glowtrace.faults.fault import OFF_FIRST, Change, Fault, Scene

_DULL, _FAINT = (0.2, 0.6), (0.03, 0.4)
_BAD_CONTACT = 0.7
_SAGS = 0.35, 0.85
_CUT, _HELD_BACK = 0.6, (0.02, 0.45)
"""Part of the control electrodes that are so negative that no beam leaves, and what the others
leave of it."""
_METER_SHOWS = 0.9
"""Chance that the meter is at the output, and not at the knob."""
_UNSMOOTHED = 0.3, 1.0
_RANGES = 0.1, 1.0 / 3.0, 3.0, 10.0
"""Steps between neighbouring ranges of a meter."""


def _always(bench: Bench, settings: Settings) -> bool:
    return True


def _cold(scene: Scene, rng: np.random.Generator) -> Change:
    return lambda condition: replace(condition, emission=0.0, filament=0.0)


def _underfed(scene: Scene, rng: np.random.Generator) -> Change:
    filament, emission = float(rng.uniform(*_DULL)), float(rng.uniform(*_FAINT))
    return lambda condition: replace(condition, emission=emission, filament=filament)


def _controlled(scene: Scene, rng: np.random.Generator) -> Change:
    """The bench model has no such electrode: all it does here is to hold the beam back."""
    left = 0.0 if rng.random() < _CUT else float(rng.uniform(*_HELD_BACK))
    return lambda condition: replace(condition, emission=left * condition.emission)


def _no_high_tension(scene: Scene, rng: np.random.Generator) -> Change:
    shared = scene.settings.plate_source == "accelerating supply"

    def change(condition: Condition) -> Condition:
        plates = (0.0, 0.0) if shared else condition.plates
        return replace(condition, accelerating_voltage=0.0, plates=plates, meter_high_tension=0.0)

    return change


def _polarity_reversed(scene: Scene, rng: np.random.Generator) -> Change:
    return lambda condition: replace(
        condition, accelerating_voltage=-condition.accelerating_voltage
    )


def _sagging(scene: Scene, rng: np.random.Generator) -> Change:
    part = float(rng.uniform(*_SAGS))
    is_shown = rng.random() < _METER_SHOWS
    shared = scene.settings.plate_source == "accelerating supply"

    def change(condition: Condition) -> Condition:
        upper, lower = condition.plates
        return replace(
            condition,
            accelerating_voltage=part * condition.accelerating_voltage,
            plates=(part * upper, part * lower) if shared else condition.plates,
            meter_high_tension=part if is_shown else 1.0,
        )

    return change


def _loose_anode(scene: Scene, rng: np.random.Generator) -> Change:
    """Most draws have a bad contact, with a lower voltage; the others have none at all."""
    has_contact = bool(rng.random() < _BAD_CONTACT)
    part = float(rng.uniform(0.5, 1.0)) if has_contact else 0.0

    def change(condition: Condition) -> Condition:
        voltage = part * condition.accelerating_voltage
        return replace(condition, accelerating_voltage=voltage, flickers=has_contact)

    return change


def _ripple(scene: Scene, rng: np.random.Generator) -> Change:
    used = [0]
    if scene.settings.plate_voltage > 0.0:
        used.append(1)
    if scene.settings.coil_current > 0.0:
        used.append(2)
    which = used[int(rng.integers(len(used)))]
    size = float(rng.uniform(*_UNSMOOTHED))

    def change(condition: Condition) -> Condition:
        gun, plates, coils = (size if n == which else old for n, old in enumerate(condition.ripple))
        return replace(condition, ripple=(gun, plates, coils))

    return change


def _wrong_range(scene: Scene, rng: np.random.Generator) -> Change:
    """A meter is read one or two ranges off; no supply gives more than it can."""
    choices = [
        (knob, factor)
        for knob, value, most in _knobs(scene.bench, scene.settings)
        for factor in _RANGES
        if value > 0.0 and factor * value <= most
    ]
    knob, factor = choices[int(rng.integers(len(choices)))]

    def change(condition: Condition) -> Condition:
        misread = replace(condition, is_misread=True)
        if knob == "accelerating":
            return replace(misread, accelerating_voltage=factor * condition.accelerating_voltage)
        if knob == "plates":
            upper, lower = condition.plates
            return replace(misread, plates=(factor * upper, factor * lower))
        tail, tip = condition.coils
        return replace(misread, coils=(factor * tail, factor * tip))

    return change


def _knobs(bench: Bench, settings: Settings) -> list[tuple[str, float, float]]:
    """Give each knob in use: name, what its meter says, and the most that its supply gives."""
    supplies = bench.supplies
    found = [("accelerating", settings.accelerating_voltage, supplies.accelerating.max_voltage)]
    if bench.plates and supplies.plates and settings.plate_source == "own supply":
        found.append(("plates", settings.plate_voltage, supplies.plates.max_voltage))
    if bench.coils and supplies.coils:
        found.append(("coils", settings.coil_current, supplies.coils.max_current))
    return found


SUPPLY_FAULTS: Final = (
    Fault(
        key="heater cold",
        title="the heater is cold",
        group="heater",
        odds=8.0,
        why="The heater supply is off, its lead is loose, or the heater is burnt out.",
        remedy=f"{OFF_FIRST} check heater supply, fuse and leads; give the cathode a minute or two "
        "to warm up.",
        applies=_always,
        draw=_cold,
        draws=0.5,
    ),
    Fault(
        key="heater underfed",
        title="the heater gets too little",
        group="heater",
        odds=4.0,
        why="Its voltage is too low or it has not warmed up yet, so few electrons leave the "
        "cathode.",
        remedy="Wait two minutes at the rated heater voltage, and never pass that. If the line "
        f"stays faint: {OFF_FIRST} check the heater's leads.",
        applies=_always,
        draw=_underfed,
    ),
    Fault(
        key="control electrode",
        title="the control electrode is too negative, if the tube has one",
        group="gun",
        odds=6.0,
        why="The electrode round the cathode turns back most electrons or all: the filament glows, "
        "and the beam is faint or missing.",
        remedy="Turn its voltage slowly towards zero until the beam is as bright as it should be, "
        "no further than the data sheet of the tube allows. If its knob does nothing: "
        f"{OFF_FIRST} check its leads against the wiring list.",
        applies=_always,
        draw=_controlled,
    ),
    Fault(
        key="no high tension",
        title="there is no high tension",
        group="high tension",
        odds=6.0,
        why="The supply is off, its interlock or fuse holds it, or its knob is at zero.",
        remedy="Turn its knob to zero, then look at switch and interlock; leave the interlock as "
        f"it is. {OFF_FIRST} check its fuse and leads.",
        applies=_always,
        draw=_no_high_tension,
        draws=0.5,
    ),
    Fault(
        key="high tension reversed",
        title="the polarity of the high tension is reversed",
        group="high tension",
        odds=3.0,
        why="With the anode negative no electron leaves the gun, although the meter shows the "
        "voltage.",
        remedy=f"{OFF_FIRST} exchange the leads of cathode and anode as in the wiring list.",
        applies=_always,
        draw=_polarity_reversed,
        draws=0.5,
    ),
    Fault(
        key="loose anode lead",
        title="the lead of the anode is loose",
        group="high tension",
        odds=3.0,
        why="Without contact there is no beam; with a bad one it comes and goes.",
        remedy=f"{OFF_FIRST} fasten the lead of the anode. A bad contact at high tension may "
        "spark: switch off at once.",
        applies=_always,
        draw=_loose_anode,
        draws=1.5,
    ),
    Fault(
        key="supply sagging",
        title="the accelerating supply is in its current limit",
        group="high tension",
        odds=4.0,
        why="More current is drawn than it can give, and its voltage sags below what is set.",
        remedy="Turn it down. Leave every protective resistor and limit as it is. "
        f"{OFF_FIRST} look for a leak to earth or a wrong lead.",
        applies=_always,
        draw=_sagging,
        draws=1.5,
    ),
    Fault(
        key="ripple",
        title="a supply ripples strongly",
        group="high tension",
        odds=2.0,
        why="Its smoothing has failed or is switched off, so every electron sees another voltage.",
        remedy=f"{OFF_FIRST} use a smoothed output or another supply, and have this one repaired.",
        applies=_always,
        draw=_ripple,
        draws=1.5,
    ),
    Fault(
        key="meter on wrong range",
        title="a meter is on the wrong range",
        group="meters",
        odds=4.0,
        why="The pointer is read on the wrong scale, so the knob stands three or ten times off.",
        remedy=f"Turn the knob to zero. {OFF_FIRST} put the meter on its right range, and set the "
        "knob again.",
        applies=lambda bench, settings: any(
            0.0 < factor * value <= most
            for _, value, most in _knobs(bench, settings)
            for factor in _RANGES
        ),
        draw=_wrong_range,
        draws=2.0,
    ),
)
