"""All that the page shows of one setting, computed together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import EndFace, GasGlow
from glowtrace.bench.picture import Model, Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.readouts import Readouts, read
from glowtrace.bench.settings import Settings
from glowtrace.demos.textbook import textbook_trace

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Setup:
    """What a picture is made of.

    Attributes
    ----------
    prepared, settings, model
        The bench, its knobs, and which fields the glow is computed with.
    chosen_x
        Where along the beam the trace is read, m.
    """

    prepared: PreparedBench
    settings: Settings
    model: Model
    chosen_x: float


@dataclass(frozen=True)
class Detail:
    """How finely a setting is shown.

    Attributes
    ----------
    electrons
        That stand for the beam on a phosphor screen.
    paths
        That stand for it where the gas glows.
    textbook_points
        On the textbook's trace.
    tube_paths
        Paths in the view of the tube; 0 leaves it as it is.
    """

    electrons: int
    paths: int
    textbook_points: int
    tube_paths: int


TURNING = Detail(electrons=200, paths=40, textbook_points=60, tube_paths=0)
"""While a knob moves."""
RESTING = Detail(electrons=8000, paths=300, textbook_points=240, tube_paths=24)
"""Once it rests."""


@dataclass(frozen=True)
class Showing:
    """What the page shows of one setting."""

    picture: Picture
    textbook: Array
    """(k, 2) u and v in m; a single point where the textbook's beam meets an end face."""
    readouts: Readouts
    flying: Array
    """(n, m, 3) paths in m for the view of the tube."""


def compute_showing(setup: Setup, detail: Detail) -> Showing:
    """Compute what the page shows of a setup, as finely as wanted."""
    prepared, settings, model = setup.prepared, setup.settings, setup.model
    is_gas = isinstance(prepared.bench.screen, GasGlow)
    picture = prepared.picture(
        settings,
        electrons=detail.paths if is_gas else detail.electrons,
        paths=detail.paths if is_gas else detail.tube_paths,
        model=model,
    )
    ray = prepared.central_ray(settings, model=model)
    return Showing(
        picture=picture,
        textbook=_textbook(prepared, settings, detail.textbook_points),
        readouts=read(prepared.bench, picture, ray, setup.chosen_x),
        flying=picture.paths[: detail.tube_paths],
    )


def _textbook(prepared: PreparedBench, settings: Settings, points: int) -> Array:
    if not settings.heater_on or settings.accelerating_voltage == 0.0:
        return np.empty((0, 2))
    trace = textbook_trace(prepared.bench, settings, points)
    line = np.stack([trace.u, trace.v], axis=1)
    if isinstance(prepared.bench.screen, EndFace):
        return line[-1:] if trace.end == "screen" else line[:0]
    return line
