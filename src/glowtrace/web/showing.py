"""All that the page shows of one setting, computed together."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.computed_line import computed_line
from glowtrace.bench.learning import Belief
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model, Picture
from glowtrace.bench.prediction import Prediction, predict
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.readouts import Readouts, read
from glowtrace.demos.textbook import textbook_trace
from glowtrace.light.rendering import RoomLook, room_look
from glowtrace.light.scene import Scene
from glowtrace.web.glow import NOWHERE
from glowtrace.web.surface import screen_box, usual_density
from glowtrace.words.knowledge import short_words

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
    scene
        Light in which it is shown; None for full darkness.
    belief
        What is believed about the bench's numbers; None while that is not known.
    """

    prepared: PreparedBench
    settings: Settings
    model: Model
    chosen_x: float
    scene: Scene | None = None
    belief: Belief | None = None
    beside: Settings | None = None
    """Whose line is kept to compare with."""


@dataclass(frozen=True)
class Detail:
    """How finely a setting is shown.

    Attributes
    ----------
    electrons
        That stand for the beam on a phosphor screen.
    paths
        That stand for it where the gas glows.
    is_exact
        Take the textbook's trace from its closed forms; else the tracer flies its electron, which
        is faster and looks the same.
    tube_paths
        Paths in the view of the tube; 0 leaves it as it is.
    """

    electrons: int
    paths: int
    is_exact: bool
    tube_paths: int


TURNING = Detail(electrons=200, paths=40, is_exact=False, tube_paths=0)
"""While a knob moves."""
RESTING = Detail(electrons=8000, paths=300, is_exact=True, tube_paths=24)
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
    look: RoomLook | None = None
    """As in the room of the setup's scene; None for full darkness."""
    band: Array = field(default_factory=lambda: NOWHERE)
    """(k, 2) u and v in m around where the line may lie, 95 %; empty where that is not known."""
    doubt: str = ""
    """The same in a sentence, for the place where the trace is read."""
    held: Array = field(default_factory=lambda: NOWHERE)
    """(k, 2) u and v in m of the line that is kept to compare with."""
    off_textbook: float | None = None
    """How far above the textbook's trace the glow is where it is read, m; of spots how far off."""
    prediction: Prediction | None = None


def compute_showing(setup: Setup, detail: Detail) -> Showing:
    """Compute what the page shows of a setup, as finely as wanted."""
    prepared, settings, model = setup.prepared, setup.settings, setup.model
    is_gas = prepared.bench.plane.glows
    found = _prediction(setup, detail)
    picture = prepared.picture(
        settings,
        electrons=detail.paths if is_gas else detail.electrons,
        paths=detail.paths if is_gas else detail.tube_paths,
        model=model,
    )
    textbook = textbook_line(prepared, settings, is_exact=detail.is_exact)
    readouts = read(prepared, picture, setup.chosen_x)
    return Showing(
        picture=picture,
        textbook=textbook,
        readouts=readouts,
        flying=picture.paths[: detail.tube_paths],
        look=_look(setup),
        band=NOWHERE if found is None else found.outline,
        doubt="" if found is None else _doubt(found, setup.chosen_x),
        held=_held(setup),
        off_textbook=_off_textbook(picture, textbook, readouts.deflection, setup.chosen_x),
        prediction=found,
    )


def _off_textbook(
    picture: Picture, textbook: Array, height: float | None, x: float
) -> float | None:
    """Give how far the glow is above the textbook's trace at x, or a spot from the textbook's."""
    plane = picture.plane
    if height is None or len(textbook) == 0:
        return None
    if plane.is_spot:
        return float(np.hypot(*(np.nanmean(picture.landings, axis=0) - textbook[0])))
    off = textbook[:, 0] - plane.u_of(x)
    crossed = np.flatnonzero(off[:-1] * off[1:] <= 0.0)
    if len(crossed) == 0:
        return None
    pair = slice(int(crossed[0]), int(crossed[0]) + 2)
    order = np.argsort(off[pair])
    return height - float(np.interp(0.0, off[pair][order], textbook[pair, 1][order]))


def _prediction(setup: Setup, detail: Detail) -> Prediction | None:
    settings, belief = setup.settings, setup.belief
    if belief is None or not belief.names or setup.model != "bench":
        return None
    if not settings.heater_on or settings.accelerating_voltage == 0.0:
        return None
    return predict(setup.prepared, settings, belief=belief, is_checked=detail.is_exact)


def _doubt(found: Prediction, x: float) -> str:
    is_there = not found.prepared.bench.plane.is_spot and found.response.at_x(x) is not None
    return short_words(found, x if is_there else None)


def _look(setup: Setup) -> RoomLook | None:
    if setup.scene is None:
        return None
    bench = setup.prepared.bench
    return room_look(bench, setup.settings, setup.scene, usual_density(bench))


def textbook_line(prepared: PreparedBench, settings: Settings, *, is_exact: bool) -> Array:
    """Give the textbook's trace (k, 2) in the picture, u and v in m; see `Showing.textbook`.

    Parameters
    ----------
    prepared, settings
        The bench and its knobs.
    is_exact
        By closed forms; else by the tracer in the same uniform fields, within 0.02 mm.
    """
    bench = prepared.bench
    if not settings.heater_on or settings.accelerating_voltage == 0.0:
        return NOWHERE
    if is_exact:
        trace = textbook_trace(bench, settings)
        line, end = np.stack([trace.u, trace.v], axis=1), trace.end
        return _on_screen(bench, line, end)
    ray = prepared.ray(settings, model="ideal", through="sheet")
    line = np.stack(bench.plane.coordinates(ray.position), axis=1)
    return _on_screen(bench, line, ray.end)


def _held(setup: Setup) -> Array:
    if setup.beside is None:
        return NOWHERE
    return computed_line(setup.prepared, setup.beside, model=setup.model).on_screen


def _on_screen(bench: Bench, line: Array, end: str) -> Array:
    if bench.plane.is_spot:
        return line[-1:] if end == "screen" else line[:0]
    return np.where(screen_box(bench).holds(line)[:, None], line, np.nan)
