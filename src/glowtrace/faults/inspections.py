"""Checks that look at something, read a meter, or measure with everything off."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench, CoilPair
from glowtrace.bench.settings import Settings
from glowtrace.faults.check import Chances, Check, Safety
from glowtrace.faults.fault import OFF_FIRST
from glowtrace.faults.looks import NOTICED, more_than
from glowtrace.faults.statements import (
    COIL_METER,
    DARK,
    DULL,
    HEATER,
    PLATE_METER,
    RANGES,
    TENSION_METER,
    WATCHING,
    has_plate_meter,
)
from glowtrace.faults.suspect import Suspect
from glowtrace.faults.variations import AS_SET

Array = NDArray[np.float64]


def inspections(bench: Bench, settings: Settings) -> list[Check]:
    """Give the checks that only look, or read a meter."""
    found = [
        Check(
            HEATER,
            "Look at the heater from where you stand; touch nothing.",
            Safety.SAFE,
            0.5,
            ("heater glows as usual", "heater is dull", "heater is dark"),
            _heater_chances,
        ),
        Check(
            TENSION_METER,
            "Read the high-tension meter on the supply.",
            Safety.SAFE,
            0.5,
            ("meter shows what is set", "meter shows less", "meter shows nothing"),
            _meter_chances,
        ),
        Check(
            RANGES,
            "Read on which range each meter stands, and on which scale you read it.",
            Safety.SAFE,
            1.0,
            ("every meter is on its right range", "a meter is on another range"),
            _range_chances,
        ),
        Check(
            WATCHING,
            "Leave every knob alone and watch the picture for two minutes.",
            Safety.SAFE,
            2.0,
            ("picture stays as it is", "picture creeps", "picture comes and goes"),
            _watching_chances,
        ),
    ]
    found.append(CONTROL)
    if has_plate_meter(bench, settings):
        found.append(
            Check(
                PLATE_METER,
                "Read the meter of the plate voltage.",
                Safety.SAFE,
                0.5,
                ("plate meter shows what is set", "plate meter shows nothing"),
                _plate_meter_chances,
            )
        )
    if bench.coils and bench.supplies.coils and settings.coil_current > 0.0:
        found.append(
            Check(
                COIL_METER,
                "Read the meter of the coil current.",
                Safety.SAFE,
                0.5,
                (
                    "coil meter shows what is set",
                    "coil meter shows less",
                    "coil meter shows nothing",
                ),
                _coil_meter_chances,
            )
        )
    return found


def with_everything_off(bench: Bench) -> list[Check]:
    """Give the checks for which everything is off and discharged, and no lead is touched."""
    found = [
        Check(
            "compass with all off",
            f"{OFF_FIRST} hold a compass beside the tube and walk it round; every supply stays "
            "off.",
            Safety.OFF,
            5.0,
            ("compass points north all round", "compass swings towards something"),
            _one_of({"magnet nearby"}, held=0.85),
        ),
        _follow("high-tension", {"high tension reversed", "loose anode lead"}),
    ]
    if bench.plates:
        leads = {"plates swapped", "plate floating", "plates joined", "plate at wrong terminal"}
        found.append(_follow("plate", leads))
    if bench.coils and bench.supplies.coils:
        leads = {"coil leads swapped", "coils opposing", "coils parallel", "one coil dead"}
        leads.add("no coil current")
        found.append(_follow("coil", leads))
        found.append(
            Check(
                "coils upright",
                f"{OFF_FIRST} look along the tube whether the coils stand upright and centred on "
                "it.",
                Safety.OFF,
                3.0,
                ("coils stand as they should", "coils are tilted or shifted"),
                _one_of({"coils out of place"}, held=0.9),
            )
        )
    if bench.coils and bench.plane.glows:
        found.append(
            Check(
                "bulb square",
                f"{OFF_FIRST} look from above whether the bulb's gun points square to the axis of "
                "the coils.",
                Safety.OFF,
                3.0,
                ("the gun points square to it", "the bulb is turned"),
                _one_of({"bulb turned"}, held=0.9),
            )
        )
    if isinstance(bench.coils, CoilPair) and bench.supplies.coils:
        found.append(
            Check(
                "compass at each coil",
                f"{OFF_FIRST} switch on the coil supply alone, at a small current (the high "
                "tension stays off), and hold a compass outside each coil, on its axis; turn the "
                "current to zero again.",
                Safety.OFF,
                4.0,
                (
                    "same way at both coils, as the wiring list says",
                    "same way at both coils, but the other way",
                    "opposite ways",
                    "at one coil only",
                    "at neither coil",
                ),
                _compass_chances,
            )
        )
    return found


def _follow(what: str, faults: set[str]) -> Check:
    return Check(
        f"follow the {what} leads",
        f"{OFF_FIRST} follow each {what} lead with your eyes from end to end and compare it with "
        "the wiring list; pull at nothing.",
        Safety.OFF,
        5.0,
        ("every lead is as in the list", "a lead is loose or at another terminal"),
        _one_of(faults, held=0.85),
    )


def _one_of(keys: set[str], held: float = 0.95) -> Chances:
    """Give the chances of two outcomes: the second is found, if there, with the chance held."""

    def chances(suspect: Suspect) -> Array:
        found = held if suspect.fault.key in keys else 0.0
        return np.tile([1.0 - found, found], (len(suspect.conditions), 1))

    return chances


def _heater_chances(suspect: Suspect) -> Array:
    filament = suspect.looks[AS_SET].filament
    dark = 1.0 - more_than(filament, DARK, 0.04)
    bright = more_than(filament, DULL, 0.08)
    return np.stack([bright, np.maximum(1.0 - dark - bright, 0.0), dark], axis=1)


def _meter_chances(suspect: Suspect) -> Array:
    return _shown_chances(suspect.looks[AS_SET].meter_high_tension)


def _shown_chances(shown: Array) -> Array:
    """Give the chances that a meter shows what is set, less, and nothing."""
    nothing = 1.0 - more_than(shown, 0.05, 0.02)
    enough = more_than(shown, 0.9, 0.03)
    return np.stack([enough, np.maximum(1.0 - nothing - enough, 0.0), nothing], axis=1)


def _plate_meter_chances(suspect: Suspect) -> Array:
    shown = more_than(suspect.looks[AS_SET].meter_plates, 0.05, 0.02)
    return np.stack([shown, 1.0 - shown], axis=1)


def _control_chances(suspect: Suspect) -> Array:
    """Give the chances; as many tubes have such an electrode as have none."""
    is_it = suspect.fault.key == "control electrode"
    return np.tile([1.0, 0.0, 0.0] if is_it else [0.0, 0.5, 0.5], (len(suspect.conditions), 1))


CONTROL: Final = Check(
    "control electrode",
    "If the tube has an electrode round the cathode that controls the beam: turn its voltage "
    "slowly towards zero, no further than the data sheet allows, and watch the picture; then turn "
    "it back.",
    Safety.SAFE,
    1.0,
    ("the beam appears or brightens", "the picture stays as it is", "there is no such electrode"),
    _control_chances,
)


def _coil_meter_chances(suspect: Suspect) -> Array:
    return _shown_chances(suspect.looks[AS_SET].meter_coils)


def _range_chances(suspect: Suspect) -> Array:
    found = 0.95 * suspect.looks[AS_SET].is_misread
    return np.stack([1.0 - found, found], axis=1)


def _watching_chances(suspect: Suspect) -> Array:
    look = suspect.looks[AS_SET]
    flickers = look.flickers
    creeps = 0.85 * look.lit * more_than(look.creep, NOTICED) * (1.0 - flickers)
    return np.stack([1.0 - flickers - creeps, creeps, flickers], axis=1)


def _compass_chances(suspect: Suspect) -> Array:
    reversed_ = suspect.fault.key == "coil leads swapped"
    rows = []
    for condition in suspect.conditions:
        tail, tip = condition.coils
        if tail == 0.0 and tip == 0.0:
            # Nothing is set, or nothing flows: the fault says which.
            dead = suspect.fault.key == "no coil current"
            rows.append([not dead and not reversed_, reversed_, 0, 0, dead])
        elif tail == 0.0 or tip == 0.0:
            rows.append([0, 0, 0, 1, 0])
        elif tail * tip < 0.0:
            rows.append([0, 0, 1, 0, 0])
        else:
            rows.append([not reversed_, reversed_, 0, 0, 0])
    return np.array(rows, dtype=np.float64)


PLATE_CONTINUITY: Final = Check(
    "plate leads with an ohmmeter",
    f"{OFF_FIRST} unplug the plate leads at the supply and measure each with an ohmmeter from plug "
    "to plate terminal.",
    Safety.LEAD,
    8.0,
    ("both plate leads conduct", "one plate lead does not conduct"),
    _one_of({"plate floating"}, held=0.97),
)


def _probe_chances(suspect: Suspect) -> Array:
    key = suspect.fault.key
    rows = []
    for condition in suspect.conditions:
        if key in {"no high tension", "loose anode lead"} and not condition.flickers:
            rows.append([0, 0, 1, 0])
        elif key == "high tension reversed":
            rows.append([0, 0, 0, 1])
        elif key == "supply sagging" or condition.flickers:
            rows.append([0, 1, 0, 0])
        else:
            rows.append([1, 0, 0, 0])
    return np.array(rows, dtype=np.float64)


PROBE: Final = Check(
    "high-tension probe",
    "Leave this to the person responsible: high tension off and discharged, a probe that is rated "
    "for the voltage fixed at the tube's terminals, covers closed, then switched on and read from "
    "a distance; off and discharged before the probe is taken away.",
    Safety.RESPONSIBLE,
    15.0,
    (
        "terminals have what is set",
        "terminals have less",
        "terminals have nothing",
        "polarity is the other way round",
    ),
    _probe_chances,
)
