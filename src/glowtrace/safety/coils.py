"""What the coils can do: warm up, and reach out with their field."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from math import isfinite

import numpy as np

from glowtrace.bench.known_fields import earth_at
from glowtrace.bench.model import Bench, Place
from glowtrace.bench.settings import Settings
from glowtrace.safety.copper import coil_copper, resistance_at
from glowtrace.safety.heating import CoilHeating, coil_heating
from glowtrace.safety.limits import (
    IMPLANT_FLUX_DENSITY,
    INSULATION_TEMPERATURE,
    TOUCH_TEMPERATURE,
    WIRE_FILL,
)
from glowtrace.safety.lines import COMMON_PRACTICE, Limit, SafetyLine, compare, written
from glowtrace.safety.stray_field import stray_field, stray_flux_density

_MODEL = (
    "Lumped model: one temperature for all the copper, 8 W/(m² K) to still air "
    f"({COMMON_PRACTICE}), started at room temperature; the inside of a winding is hotter. Feel "
    "for warmth with the current off, or use a thermometer."
)
_AUDIENCE = 1.0
"""m from the coils at which the stray field is told."""


def coil_lines(
    bench: Bench, settings: Settings, run_seconds: float, room_temperature: float
) -> Iterator[SafetyLine]:
    """Give the lines on power, temperature, length of the run and stray field of the coils."""
    heating = coil_heating(bench, settings.coil_current, room_temperature)
    if heating is None:
        return
    yield from _wire_line(bench)
    yield from _heat_lines(bench, heating, run_seconds)
    yield from _field_lines(bench, settings)


def _wire_line(bench: Bench) -> Iterator[SafetyLine]:
    """Report a winding that its own section cannot hold: the heating is then not to be trusted."""
    copper = coil_copper(bench)
    if copper is not None and copper.fill > WIRE_FILL.value:
        advice = (
            "Resistance, turns and sizes of the coils contradict each other, so the temperatures "
            "below are not to be trusted: measure the resistance."
        )
        yield compare("copper in the winding", copper.fill, WIRE_FILL, "attention", "", advice)


def _heat_lines(bench: Bench, heating: CoilHeating, run_seconds: float) -> Iterator[SafetyLine]:
    cold, after = heating.room_temperature, heating.temperature_after(run_seconds)
    if bench.coils:
        rated = bench.coils.max_current**2 * resistance_at(heating.resistance, cold)
        hot = f"; {written(heating.power_at(after), 'W')} after the run" if isfinite(after) else ""
        yield compare(
            "power in the coils", heating.power_at(cold),
            Limit(rated, "W", "rated current of the coils, at the room's temperature"), "stop",
            "The resistance of copper rises by 0.4 % for each kelvin: the current sinks as the "
            "coils warm up, unless the supply holds it.",
            "Beyond the rated current: turn it down.",
            note="cold" + hot,
        )  # fmt: skip
    longest = heating.time_to(INSULATION_TEMPERATURE.value)
    ran = f"after {written(run_seconds, 's')} from {written(cold, 'K')}"
    yield compare(
        "temperature of the coils, to touch", after, TOUCH_TEMPERATURE, "attention", _MODEL,
        f"Do not touch; let them cool before they are moved. {_MODEL}", note=ran,
    )  # fmt: skip
    yield compare(
        "temperature of the coils, insulation", after, INSULATION_TEMPERATURE, "stop",
        f"{_left_on(heating)} {_MODEL}",
        f"Run for {written(longest, 's')} at most at this current, or turn it down. {_MODEL}",
        note=ran,
    )  # fmt: skip
    yield compare(
        "length of the run", run_seconds,
        Limit(longest, "s", f"until the coils reach {INSULATION_TEMPERATURE}, from a cold start; "
              + INSULATION_TEMPERATURE.source),
        "stop", _MODEL, f"Shorten the run or turn the current down. {_MODEL}",
    )  # fmt: skip


def _left_on(heating: CoilHeating) -> str:
    if not isfinite(heating.steady_temperature):
        return "Left on it never settles: the hotter, the more heat it makes."
    return f"Left on it settles at {written(heating.steady_temperature, 'K')}."


def _field_lines(bench: Bench, settings: Settings) -> Iterator[SafetyLine]:
    level = IMPLANT_FLUX_DENSITY
    stray = stray_field(bench, settings.coil_current, level.value)
    if stray is None:
        return
    away = f"{written(stray.reach, 'm')} from the middle of the coils"
    yield SafetyLine(
        f"reach of the stray field of {level}",
        f"no further than {away}" if stray.stays_inside else away,
        str(level),
        level.source,
        None,
        "ok" if stray.stays_inside else "attention",
        "Ask about implants all the same; hold no magnetic cards or watches to the coils."
        if stray.stays_inside
        else "Keep people with implants further away than this, and mark the distance. "
        "Watches and magnetic cards too.",
        stray.reach,
        level.value,
    )
    distance = max(_AUDIENCE, stray.nearest)
    there = float(stray_flux_density(bench, settings.coil_current, [distance])[0])
    yield compare(
        f"stray field at {written(distance, 'm')}", there, level, "attention",
        f"{_beside_earth(bench)} Iron nearby is left out.",
        f"Keep people with implants further away. {_beside_earth(bench)}",
        note="at most, in the directions looked at",
    )  # fmt: skip


def _beside_earth(bench: Bench) -> str:
    """Tell Earth's field at the place of the bench, for context."""
    size = _earth_size(bench.place)
    return f"Earth's field at the place of the bench (IGRF-14) is {written(size, 'mT')}."


@cache  # the model takes a third of a second, and places are few
def _earth_size(place: Place) -> float:
    """Flux density of Earth's field in T."""
    return float(np.linalg.norm(earth_at(place)))
