"""From the line of a photograph to a table of readings for a fit.

What a point has by itself stands in its cell. What the map adds is common to all points of the
photograph and does not average out; it is given to the photograph, as the ruler that it is
(`glowtrace.photographs.sway`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import EndFace, Screen
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Reading, Table, Tie, table
from glowtrace.photographs.circle import Circle
from glowtrace.photographs.photograph import PhotographError
from glowtrace.photographs.sway import fitted_sway
from glowtrace.photographs.trace_line import TraceLine

Array = NDArray[np.float64]

_MOST_ROWS: Final = 25


@dataclass(frozen=True)
class KnobReadings:
    """What the meters showed while the photograph was taken."""

    accelerating_voltage: Reading
    plate_voltage: Reading | None = None
    """Signed, in V."""
    coil_current: Reading | None = None
    """Signed, in A."""


def line_readings(
    line: TraceLine,
    screen: Screen,
    knobs: KnobReadings,
    *,
    instruments: dict[str, Instrument] | None = None,
    plate_tie: Tie = "symmetric",
    most_rows: int = _MOST_ROWS,
) -> Table:
    """Give the points of a line as readings (x, y) of "plates only" or "coils only".

    x is read along the sheet's printed grid, as an eye would; the fit turns it into x in space.

    Parameters
    ----------
    line
        Its points that count, at most ``most_rows`` of them, evenly spread.
    screen
        Sheet or gas glow of the bench.
    knobs
        Accelerating voltage, and either the plate voltage or the coil current.
    instruments
        Of the meters; those of x and y come from the photograph.
    plate_tie
        How the plates stood against the anode.
    most_rows
        Neighbouring points tell little new.

    Raises
    ------
    PhotographError
        If no point counts, the screen is an end face, or not exactly one deflection was on.
    """
    if isinstance(screen, EndFace):
        raise PhotographError(
            "an end face shows a spot, not a line; photograph a sheet or gas glow"
        )
    if (knobs.plate_voltage is None) == (knobs.coil_current is None):
        raise PhotographError("give either the plate voltage or the coil current, not both")
    kept = line.kept
    if len(kept) == 0:
        raise PhotographError("the line has no points that count; extract it again or add points")
    count = min(len(kept), most_rows)
    kept = kept.selected(np.unique(np.rint(np.linspace(0, len(kept) - 1, count)).astype(int)))
    places = kept.places
    variance = np.diagonal(kept.own_covariance, axis1=1, axis2=2)
    own = np.sqrt(np.maximum(variance, 0.0))
    sway = kept.screen_map.sway(kept.pixels)
    errors, rest = zip(*(fitted_sway(places, sway[:, :, n]) for n in range(2)), strict=True)
    rulers = [Instrument(name="photograph", sway=each) for each in errors]
    cells = [
        [
            Reading(float(value), float(sigma))
            for value, sigma in zip(places[:, n], whole, strict=True)
        ]
        for n in range(2)
        for whole in (np.hypot(own[:, n], rest[n]),)
    ]
    is_plates = knobs.plate_voltage is not None
    name, knob = (
        ("plate_voltage", knobs.plate_voltage)
        if is_plates
        else ("coil_current", knobs.coil_current)
    )
    return table(
        "plates only" if is_plates else "coils only",
        [
            {"x": x, "y": y, "accelerating_voltage": knobs.accelerating_voltage, name: knob}
            for x, y in zip(*cells, strict=True)
        ],
        {**(instruments or {}), "x": rulers[0], "y": rulers[1]},
        plate_tie=plate_tie,
        note="points of a photograph",
    )


def circle_readings(
    circle: Circle, knobs: KnobReadings, *, instruments: dict[str, Instrument] | None = None
) -> Table:
    """Give a fitted circle as a reading of the method "circle".

    Raises
    ------
    PhotographError
        If the coil current was not read.
    """
    if knobs.coil_current is None:
        raise PhotographError("a circle needs the coil current; give it")
    row = {
        "diameter": Reading(circle.diameter, circle.diameter_uncertainty),
        "accelerating_voltage": knobs.accelerating_voltage,
        "coil_current": knobs.coil_current,
    }
    return table("circle", [row], instruments, note="circle of a photograph")
