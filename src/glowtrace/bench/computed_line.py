"""The computed line: what a line that is read, drawn or filmed is compared with.

At each place of a sheet another electron draws it (`glowtrace.bench.electron.drawing`). A few of
them are flown; between those the path is interpolated, so that the line has the height of
`PreparedBench.line_height` at each place, to a micrometre, also where it turns back. In gas it is
the way of the beam's axis, and on an end face a single place.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.electron import AXIS, drawing, launched
from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.bench.settings import Settings

Array = NDArray[np.float64]

_DRAWN = 9
"""Places at which the electron is flown that draws the line just there."""
_ROUNDS = 3
"""Of finding which electron draws the line: each leaves 1 % of how far off the last one was."""


@dataclass(frozen=True, eq=False)
class ComputedLine:
    """Places (n,) along the line in the order of flight, also beyond the screen's edge."""

    plane: ScreenPlane
    u: Array
    """m."""
    v: Array
    """m."""

    @property
    def places(self) -> Array:
        """(n, 2) u and v in m."""
        return np.column_stack([self.u, self.v])

    @property
    def on_screen(self) -> Array:
        """(n, 2) u and v in m, NaN beyond the screen's edge."""
        return np.where(self.plane.holds(self.places)[:, None], self.places, np.nan)

    @property
    def first_piece(self) -> Array:
        """(k, 2) u and v in m from where it comes on the screen to where it first leaves it."""
        inside = self.plane.holds(self.places)
        first = int(inside.argmax()) if inside.any() else len(inside)
        beyond = np.flatnonzero(~inside[first:])
        return self.places[first : first + int(beyond[0]) if len(beyond) else None]

    @property
    def is_rising(self) -> bool:
        """Whether it goes on along u as far as it is on the screen: one height at each place."""
        piece = self.first_piece
        return len(piece) > 1 and bool((np.diff(piece[:, 0]) > 0.0).all())

    def at(self, u: Array) -> Array:
        """Give the heights (s,) in m at which it first comes to places u (s,); NaN if never."""
        if len(self.u) < 2:
            return np.full(len(u), np.nan)
        farthest = np.maximum.accumulate(self.u)
        is_new = np.concatenate([[True], np.diff(farthest) > 0.0])
        known = self.u[is_new], self.v[is_new]
        return np.asarray(np.interp(u, *known, left=np.nan, right=np.nan))


def computed_line(
    prepared: PreparedBench, settings: Settings, *, model: Model = "bench"
) -> ComputedLine:
    """Give the line that the beam draws on the screen.

    Parameters
    ----------
    prepared, settings
        The bench and its knobs.
    model
        See `Model`.

    Returns
    -------
    ComputedLine
        Up to where electrons meet a part; a single place on an end face, and none where no
        electron comes.
    """
    plane = prepared.plane
    if plane.is_line:
        places = _drawn(prepared, settings, model)
    else:
        path = prepared.fly(settings, AXIS, model=model)
        places = np.stack(plane.coordinates(path.position), axis=1)
        if plane.is_spot:
            places = places[-1:] if path.end == "screen" else places[:0]
    return ComputedLine(plane, *np.ascontiguousarray(places.T))


def _drawn(prepared: PreparedBench, settings: Settings, model: Model) -> Array:
    """Give places (n, 2) of a line on a sheet."""
    plane, field = prepared.plane, prepared.field(settings, model)
    nodes = np.linspace(plane.x_from, plane.x_to, _DRAWN)
    launches = [prepared.askew.then(drawing(prepared.bench, x)) for x in nodes.tolist()]
    flown = prepared.fly_in(field, launched(field, settings.voltage_on_beam, launches))
    if len(flown) < _DRAWN:
        return np.empty((0, 2))
    # At one point all have the same way behind them. Ends go together where they are on one thing.
    paths = np.full((_DRAWN, max(len(path.time) for path in flown), 2), np.nan)
    for row, path in zip(paths, flown, strict=True):
        row[: len(path.time) - 1] = path.position[:-1, :2]
        row[-1] = path.position[-1, :2] if path.end == flown[0].end else math.nan
    place = paths[_DRAWN // 2]
    for _ in range(_ROUNDS):
        place = _between(nodes, paths, place[:, 0])
    x, y = place[np.isfinite(place[:, 0])].T
    return np.column_stack([x / plane.cosine, y])


def _between(nodes: Array, paths: Array, x: Array) -> Array:
    """Give the points (t, 2) of the electrons that draw the line at x (t,): a cubic of four."""
    part = (np.clip(x, nodes[0], nodes[-1]) - nodes[0]) / (nodes[1] - nodes[0])
    first = np.clip(np.nan_to_num(part).astype(int) - 1, 0, len(nodes) - 4)
    s = part - first
    weights = (
        -(s - 1) * (s - 2) * (s - 3) / 6,
        s * (s - 2) * (s - 3) / 2,
        -s * (s - 1) * (s - 3) / 2,
        s * (s - 1) * (s - 2) / 6,
    )
    at = np.arange(len(x))
    return np.asarray(sum(w[:, None] * paths[first + n, at] for n, w in enumerate(weights)))
