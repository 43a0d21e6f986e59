"""The sketch of what is seen, as an element of the page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import Final

import numpy as np
from nicegui import ui
from nicegui.events import GenericEventArguments
from numpy.typing import NDArray

from glowtrace.bench.computed_line import computed_line
from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.web.controls import put_prop
from glowtrace.web.faults.glow_drawing import Glow
from glowtrace.web.surface import screen_box, surface_of

Array = NDArray[np.float64]

HANDLES: Final = 7
HANDLES_ON_LOOP: Final = 11
_ELECTRONS: Final = 6000
_LARGEST_STEP: Final = 0.12
"""In diagonals of the screen: a longer step between rows of a picture is a gap, not a line."""
LABEL: Final = (
    "The screen: drag the points, or draw the line that you see; "
    "Tab goes to the points, arrow keys move one"
)


class Sketch(ui.element, component="sketch.js", esm={"glowtrace-lines": "lines"}):
    """The screen with the expected line, on which the visitor draws the line that is seen.

    Parameters
    ----------
    bench
        Whose screen it is.
    on_sketch
        Called with the points (n, 2) of the line in m, u and v on the screen; none where it was
        cleared, middle and edge of a spot.
    """

    def __init__(self, bench: Bench, on_sketch: Callable[[Array], object]) -> None:
        super().__init__()
        surface = surface_of(bench)
        is_spot = bench.plane.is_spot
        may_loop = bench.plane.glows
        self.props["surface"] = {**asdict(surface), "is_spot": is_spot, "may_loop": may_loop}
        self.props["handle_count"] = HANDLES_ON_LOOP if may_loop else HANDLES
        self.props["label"] = LABEL
        self.props["expected"] = []
        self.style(f"--glow: rgb{surface.glow}")
        self._on_sketch = on_sketch
        self.on("sketched", self._sketched)

    def expect(self, pieces: Sequence[Array]) -> None:
        """Draw the expected line, piece by piece (n, 2) in m."""
        self.props["expected"] = [(1e3 * piece).round(2).tolist() for piece in pieces]

    def show(self, glow: Glow, name: str) -> None:
        """Draw what a named cause would look like; a dark one is not drawn."""
        put_prop(self, "shown", glow._asdict())
        put_prop(self, "shown_name", name if glow.band else "")

    def put(self, points: Array) -> None:
        """Draw the line that is seen, (n, 2) in m."""
        self.run_method("put", (1e3 * points).round(2).tolist())

    def start(self, places: Sequence[Sequence[float]]) -> None:
        """Start with a line in mm, or with none, and with nothing to be undone."""
        self.run_method("start", [list(place) for place in places])

    def _sketched(self, event: GenericEventArguments) -> None:
        self._on_sketch(np.array(event.args, dtype=float).reshape(-1, 2) / 1e3)


def expected_pieces(prepared: PreparedBench, settings: Settings) -> tuple[Array, ...]:
    """Give where the line should be: pieces (n, 2) in m that lie on the screen, longest first.

    Of a spot, one piece: its middle and a point of its edge.
    """
    if prepared.plane.is_spot:
        return spot(prepared.picture(settings, electrons=_ELECTRONS).landings)
    return line_pieces(prepared.bench, computed_line(prepared, settings).places)


def spot(landings: Array) -> tuple[Array, ...]:
    """Give middle and edge of the spot that landings (n, 2) in m make; nothing where it is dark.

    The edge is that of an evenly lit disc with the same spread: its radius is the square root of
    twice the mean square distance from its middle.
    """
    if len(landings) == 0:
        return ()
    middle = landings.mean(axis=0)
    radius = np.sqrt(2.0 * ((landings - middle) ** 2).sum(axis=1).mean())
    return (np.stack([middle, middle + np.array([radius, 0.0])]),)


def line_pieces(bench: Bench, line: Array) -> tuple[Array, ...]:
    """Cut a line (n, 2) in m where it leaves the screen or jumps."""
    box = screen_box(bench)
    if len(line) == 0:
        return ()
    diagonal = np.hypot(box.u_high - box.u_low, box.v_high - box.v_low)
    jumps = np.hypot(*np.diff(line, axis=0).T) > _LARGEST_STEP * diagonal
    inside = box.holds(line)
    cuts = np.flatnonzero(jumps | (np.diff(inside.astype(int)) != 0)) + 1
    pieces = [piece for piece in np.split(line, cuts) if box.holds(piece[:1]).all()]
    return tuple(sorted(pieces, key=len, reverse=True))
