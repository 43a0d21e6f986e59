"""What to look at next, so that what is planned gets better known."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np

from glowtrace.bench.learning import Belief, narrowed, noise_at
from glowtrace.bench.line_response import line_response
from glowtrace.bench.prediction import predict
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import check_settings, knob_ranges
from glowtrace.bench.settings import Settings

READ_TO: Final = 0.5e-3
"""Standard uncertainty in m of a reading off the printed grid, where none is told."""
_PARTS: Final = (0.4, 0.6, 0.8, 0.95)
"""Places along the screen at which a line can be read."""
_KNOB_PARTS: Final = (0.0, 0.25, 0.6)
"""Parts of a knob's range that are tried."""


class Observation(NamedTuple):
    """One that is worth making: the settings, the place, and what it brings."""

    settings: Settings
    x: float
    """Where to read the height of the line, m."""
    narrower: float
    """How many times narrower the band of what is aimed at gets."""


def next_observations(
    prepared: PreparedBench,
    aim: Settings,
    x: float,
    *,
    belief: Belief,
    uncertainty: float = READ_TO,
) -> tuple[Observation, ...]:
    """Give the observations that tighten the line at ``aim`` and x most, the best of each settings.

    Linear; the reading is taken to be good to ``uncertainty`` in m. None where all is exact.
    """
    target = predict(prepared, aim, belief=belief, is_checked=False).response.at_x(x)
    if target is None or not belief.names:
        return ()
    now = belief.size(target[:, 0])
    found = []
    for settings in _tried(prepared, aim):
        response = line_response(prepared, prepared.effects, settings)
        best: Observation | None = None
        for place in _places(prepared):
            change = response.at_x(place)
            if change is None:
                continue
            after = narrowed(belief, change[:, 0], noise_at(uncertainty, place))
            left = after.size(target[:, 0])
            gain = now / left if left > 0.0 else 1.0
            if best is None or gain > best.narrower:
                best = Observation(settings, place, gain)
        if best is not None:
            found.append(best)
    return tuple(sorted(found, key=lambda each: -each.narrower))


def _places(prepared: PreparedBench) -> list[float]:
    screen = prepared.bench.screen
    if screen.kind == "end face":
        return [screen.x]
    first = max(screen.x_from, 0.0)
    return [first + part * (screen.x_to - first) for part in _PARTS]


def _tried(prepared: PreparedBench, aim: Settings) -> Iterator[Settings]:
    """Give those aimed at, and others within the ratings: knobs low, high, off, in both ways."""
    bench = prepared.bench
    ranges = knob_ranges(bench)
    low, high, _ = ranges["accelerating_voltage"]
    voltages = sorted({aim.accelerating_voltage, *np.round(np.array([0.3, 0.8]) * high, -2)})
    plates = [part * ranges["plate_voltage"].high for part in _KNOB_PARTS]
    coils = [part * ranges["coil_current"].high for part in _KNOB_PARTS]
    seen = {aim}
    if not check_settings(bench, aim):
        yield aim
    for voltage, plate, coil in itertools.product(voltages, plates, coils):
        for reversed_ in (False, True):
            settings = Settings(
                accelerating_voltage=float(np.clip(voltage, low, high)),
                plate_voltage=float(f"{plate:.2g}"),
                plate_tie=aim.plate_tie,
                plate_source=aim.plate_source,
                coil_current=float(f"{coil:.2g}"),
                coil_reversed=reversed_ and coil > 0.0,
                plate_reversed=reversed_ and coil == 0.0 and plate > 0.0,
            )
            if settings not in seen and not check_settings(bench, settings):
                seen.add(settings)
                yield settings
