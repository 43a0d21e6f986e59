"""Many settings flown through the fields of one bench, without pictures: compiled, row by row.

All fields are sums of unit fields times knobs, so one table serves every setting of a map; only its
factors change from point to point.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.obstacles import FIRST_ELECTRODE, Obstacles
from glowtrace.beam.pusher import fly
from glowtrace.beam.screen import Canvas, picture_point
from glowtrace.beam.source import Source, emit
from glowtrace.compiled import compiled
from glowtrace.fields.interpolation import Field, scaled_field

Array = NDArray[np.float64]


@compiled()
def fly_settings(
    unit_field: Field,
    walls: Obstacles,
    source: Source,
    shifts: Array,
    inside: bool,
    plane: Canvas,
    tolerance: float,
    longest: float,
    knobs: Array,
    ends: NDArray[np.int64],
    places: Array,
) -> None:
    """Fly the same electrons at each of many settings.

    Parameters
    ----------
    unit_field
        The field at 1 V between the plates and 1 A in the coils.
    walls, source, shifts, inside
        As `glowtrace.beam.bundle.fly_bundle` has them.
    plane
        The picture plane, taken as dark.
    tolerance, longest
        Error of position in m allowed per step; length of path in m after which to give up.
    knobs
        (p, 3): accelerating voltage in V, plate voltage in V and coil current in A, signed.
    ends
        (p, e): receives the end codes.
    places
        (p, e, 2): receives (u, v) in m of the end of each flight.
    """
    state = np.empty(6)
    nowhere, unlit = np.empty((0, 7)), np.empty((0, 0))
    for p in range(knobs.shape[0]):
        here = scaled_field(unit_field, knobs[p, 1], knobs[p, 2])
        beam = Source(
            knobs[p, 0],
            source.half_height,
            source.half_width,
            source.is_round,
            source.divergence_vertical,
            source.divergence_sideways,
            source.temperature,
            source.ripple,
            source.plate_ripple,
            source.coil_ripple,
            source.plates_share_supply,
            source.height,
            source.aside,
            source.rise,
            source.turn,
        )
        for e in range(ends.shape[1]):
            started, strength, current = emit(beam, shifts, e, here, inside, state)
            if not started:
                ends[p, e] = FIRST_ELECTRODE
                continue
            ends[p, e], _, _, _ = fly(
                scaled_field(here, strength, current), walls, inside, tolerance, longest,
                state, nowhere, 1.0, plane, unlit,
            )  # fmt: skip
            u, v = picture_point(plane, state[0], state[1], state[2])
            places[p, e, 0], places[p, e, 1] = u, v
