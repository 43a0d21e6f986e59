"""What the coils can do: warm up, and reach out with their field."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from math import isfinite
from typing import Final

import numpy as np

from glowtrace.bench.known_fields import earth_at
from glowtrace.bench.model import Bench, Place
from glowtrace.bench.settings import Settings
from glowtrace.findings import Finding, Quantity, finding
from glowtrace.safety.copper import coil_copper, resistance_at
from glowtrace.safety.heating import CoilHeating, coil_heating
from glowtrace.safety.limits import (
    IMPLANT_FLUX_DENSITY,
    INSULATION_TEMPERATURE,
    TOUCH_TEMPERATURE,
    WIRE_FILL,
)
from glowtrace.safety.lines import Limit, SafetyLine, compare
from glowtrace.safety.stray_field import stray_field, stray_flux_density

_MODEL: Final = finding("safety.advice.model")
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
        advice = (finding("safety.advice.contradiction"),)
        yield compare(finding("safety.topic.wire"), copper.fill, WIRE_FILL, "attention", (), advice)


def _heat_lines(bench: Bench, heating: CoilHeating, run_seconds: float) -> Iterator[SafetyLine]:
    cold, after = heating.room_temperature, heating.temperature_after(run_seconds)
    if bench.coils:
        yield _power_line(bench.coils.max_current, heating, after)
    longest = heating.time_to(INSULATION_TEMPERATURE.value)
    ran = finding(
        "safety.value.after",
        value=Quantity(after, "K"),
        time=Quantity(run_seconds, "s"),
        room=Quantity(cold, "K"),
    )
    yield compare(
        finding("safety.topic.touch"),
        after,
        TOUCH_TEMPERATURE,
        "attention",
        (_MODEL,),
        (finding("safety.advice.do_not_touch"), _MODEL),
        told=ran,
    )
    yield compare(
        finding("safety.topic.insulation"),
        after,
        INSULATION_TEMPERATURE,
        "stop",
        (_left_on(heating), _MODEL),
        (finding("safety.advice.longest", time=Quantity(longest, "s")), _MODEL),
        told=ran,
    )
    source = finding(
        "safety.source.run",
        temperature=INSULATION_TEMPERATURE.quantity,
        source=INSULATION_TEMPERATURE.source,
    )
    yield compare(
        finding("safety.topic.run"),
        run_seconds,
        Limit(longest, "s", source),
        "stop",
        (_MODEL,),
        (finding("safety.advice.shorten"), _MODEL),
    )


def _power_line(most: float, heating: CoilHeating, after: float) -> SafetyLine:
    cold = heating.room_temperature
    rated = most**2 * resistance_at(heating.resistance, cold)
    power = Quantity(heating.power_at(cold), "W")
    hot = Quantity(heating.power_at(after), "W") if isfinite(after) else None
    return compare(
        finding("safety.topic.power"),
        power.value,
        Limit(rated, "W", finding("safety.source.coil_current")),
        "stop",
        (finding("safety.advice.current_sinks"),),
        (finding("safety.advice.beyond_current"),),
        told=finding("safety.value.cold_and_after", value=power, after=hot)
        if hot
        else finding("safety.value.cold", value=power),
    )


def _left_on(heating: CoilHeating) -> Finding:
    if not isfinite(heating.steady_temperature):
        return finding("safety.advice.never_settles")
    settled = Quantity(heating.steady_temperature, "K")
    return finding("safety.advice.settles", temperature=settled)


def _field_lines(bench: Bench, settings: Settings) -> Iterator[SafetyLine]:
    level = IMPLANT_FLUX_DENSITY
    stray = stray_field(bench, settings.coil_current, level.value)
    if stray is None:
        return
    inside = stray.stays_inside
    yield SafetyLine(
        finding("safety.topic.reach", level=level.quantity),
        finding(
            "safety.value.within_reach" if inside else "safety.value.reach",
            reach=Quantity(stray.reach, "m"),
        ),
        level.quantity,
        level.source,
        None,
        "ok" if inside else "attention",
        (finding("safety.advice.ask_implants" if inside else "safety.advice.keep_away"),),
        stray.reach,
        level.value,
    )
    distance = max(_AUDIENCE, stray.nearest)
    there = float(stray_flux_density(bench, settings.coil_current, [distance])[0])
    earth = finding("safety.advice.earth", field=Quantity(_earth_size(bench.place), "mT"))
    yield compare(
        finding("safety.topic.stray", distance=Quantity(distance, "m")),
        there,
        level,
        "attention",
        (finding("safety.advice.below_too"), earth, finding("safety.advice.iron")),
        (finding("safety.advice.further"), earth),
        told=finding("safety.value.at_most", value=Quantity(there, level.unit)),
    )


@cache  # the model takes a third of a second, and places are few
def _earth_size(place: Place) -> float:
    """Flux density of Earth's field in T."""
    return float(np.linalg.norm(earth_at(place)))
