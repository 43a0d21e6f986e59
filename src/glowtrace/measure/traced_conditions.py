"""The `bench` model as conditions on readings: electrons traced through the real fields.

Each function takes the tracer, the tube and true readings (r,) by column, and gives what should be
zero (r, c), in m.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.measure.methods import Method
from glowtrace.measure.textbook_conditions import height_on_axis
from glowtrace.measure.tracer import Tracer
from glowtrace.measure.tube import Readings, Tube

Array = NDArray[np.float64]


def _points_of_the_trace(tracer: Tracer, tube: Tube, readings: Readings) -> Array:
    return _distances(tracer, tube, readings, readings["x"], height_on_axis(tube, readings))


def _distances(tracer: Tracer, tube: Tube, readings: Readings, x: Array, y: Array) -> Array:
    """Distances (r, 1) in m of points (r,) over the beam's axis from their traces."""
    nothing = np.zeros_like(x)
    knobs = np.stack(
        [
            readings["accelerating_voltage"],
            readings.get("plate_voltage", nothing),
            readings.get("coil_current", nothing),
        ],
        axis=1,
    )
    at_end = tracer.prepared.bench.plane.is_spot
    misfits = np.empty((len(x), 1))
    # Points of one trace follow each other, and share the setting.
    new = np.flatnonzero(np.any(np.diff(knobs, axis=0) != 0, axis=1)) + 1
    for first, last in itertools.pairwise((0, *new.tolist(), len(x))):
        rows = range(first, last)
        voltage, plates, current = knobs[first].tolist()
        paths = tracer.paths(tube, voltage, plates, current, x[first:last])
        for n, path in zip(rows, paths, strict=True):
            misfits[n] = y[n] - path.height_at(x[n]) if at_end else path.normal_distance(x[n], y[n])
    return misfits


def _null(tracer: Tracer, tube: Tube, readings: Readings) -> Array:
    end = tube.plate_start + tube.plate_length
    x = np.where(np.isnan(readings["x"]), end, readings["x"])
    return _distances(tracer, tube, readings, x, readings["y"])


def _circle(tracer: Tracer, tube: Tube, readings: Readings) -> Array:
    misfits = np.empty((len(readings["diameter"]), 1))
    rows = zip(readings["accelerating_voltage"], readings["coil_current"], strict=True)
    for n, (voltage, current) in enumerate(rows):
        top = tracer.path(tube, voltage, 0.0, current).far_height()
        misfits[n] = readings["diameter"][n] - abs(top)
    return misfits


def _axial_focus(tracer: Tracer, tube: Tube, readings: Readings) -> Array:
    length, turns = readings["length"] + tube.focus_shift, readings["turns"]
    misfits = np.empty((len(length), 1))
    rows = zip(readings["accelerating_voltage"], readings["coil_current"], strict=True)
    for n, (voltage, current) in enumerate(rows):
        made = tracer.turns(tube, voltage, current, length[n])
        misfits[n] = length[n] * (made / turns[n] - 1.0)
    return misfits


def _turn_back(tracer: Tracer, tube: Tube, readings: Readings) -> Array:
    misfits = np.empty((len(readings["depth"]), 2))
    columns = ("accelerating_voltage", "plate_voltage", "coil_current")
    for n, knobs in enumerate(zip(*(readings[name] for name in columns), strict=True)):
        path = tracer.turning_path(tube, *knobs)
        misfits[n, 0] = readings["depth"][n] - path.far_height()
        misfits[n, 1] = readings["pitch"][n] - path.back_on_axis()
    # A pitch that was read but that the model does not have is no empty cell.
    lost = np.isnan(misfits[:, 1]) & ~np.isnan(readings["pitch"])
    misfits[lost, 1] = np.inf
    return misfits


TRACED_CONDITIONS: Final = MappingProxyType[Method, Callable[[Tracer, Tube, Readings], Array]](
    {
        "plates only": _points_of_the_trace,
        "coils only": _points_of_the_trace,
        "null": _null,
        "circle": _circle,
        "axial focus": _axial_focus,
        "turn-back": _turn_back,
    }
)
"""The conditions of each method, (r, c) in m."""
