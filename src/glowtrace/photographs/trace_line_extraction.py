"""Extracting the glowing line of a photograph, with an uncertainty for each point."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.light import RectifiedScreen, rectify
from glowtrace.photographs.photograph import Photograph
from glowtrace.photographs.trace_line import Finding, Shape, Source, TraceLine, no_line
from glowtrace.photographs.trace_line_columns import rough_paths
from glowtrace.photographs.trace_line_profiles import (
    Stations,
    joined,
    line_width,
    measure_stations,
    smooth_through,
)
from glowtrace.photographs.trace_line_ridge import rough_ridges
from glowtrace.photographs.trace_line_trust import FEWEST, clear_of_crossings, trusted

Array = NDArray[np.float64]

_STATIONS: Final = 100
"""About how many points a line across the whole screen gets."""
_ABOVE_CHANCE: Final = 1.5
"""By how much the brightest way must beat the darkest one."""
_FEWEST_IN_ALL: Final = 8
"""Fewest points of a line, or of one walk along it, that are no chance."""
_EDGE: Final = 3
"""Columns at either side of the screen that are left out."""
_EDGE_WIDTHS: Final = 2.0
"""Widths of the line at either side that are left out: as far as blur reaches over the edge."""
_ROUNDS: Final = 3
_DIM: Final = 12.0
_MOST_CLIPPED: Final = 0.1


def extract_line(
    photograph: Photograph,
    screen_map: ScreenMap,
    *,
    shape: Shape = "single-valued",
    grid_pitch: float | None = None,
) -> TraceLine:
    """Find the glowing line on the screen.

    When it holds: for a line brighter than what is beside it and narrower than a twelfth of the
    screen. A poor picture is no error: the findings of the line say what is wrong with it.

    Parameters
    ----------
    photograph, screen_map
        See `load_photograph` and `fit_screen_map`.
    shape
        See `Shape`: circles, loops and lines that turn back need "loop".
    grid_pitch
        Distance in m of the printed lines of the screen, if it has any.

    Raises
    ------
    PhotographError
        If the screen covers too few pixels or lies outside the photograph.
    """
    screen = rectify(photograph, screen_map, grid_pitch=grid_pitch)
    stations = _columns(screen) if shape == "single-valued" else _ridges(screen)
    stations = _without_scraps(stations) if stations is not None else None
    findings = list(_about_screen(screen))
    if stations is None or len(stations.strength) < _FEWEST_IN_ALL:
        says = "no line brighter than the noise"
        return no_line(screen_map, screen.channel, shape, [Finding("no line", says), *findings])
    findings += _about_line(screen, stations, shape)
    if shape == "loop":
        stations = clear_of_crossings(stations)
    return _line(screen, screen_map, stations, shape, findings)


def curve_stations(screen: RectifiedScreen) -> Stations | None:
    """Give the stations of a line of any shape on a screen, clear of crossings; None without."""
    stations = _ridges(screen)
    if stations is None:
        return None
    stations = clear_of_crossings(_without_scraps(stations))
    return stations if len(stations.strength) >= _FEWEST_IN_ALL else None


def _columns(screen: RectifiedScreen) -> Stations | None:
    """Stations of a line with one v for each u; None if it does not stand out."""
    # At the very edge the blur of the photograph mixes in what lies beside the screen.
    columns = np.arange(_EDGE, screen.light.shape[1] - _EDGE)
    every = max(4, round(len(columns) / _STATIONS))
    up = np.tile([0.0, 1.0], (len(columns), 1))
    settled: list[tuple[float, Stations, float]] = []
    tried: list[Array] = []
    for rough in rough_paths(screen):
        is_chance = rough.contrast < _ABOVE_CHANCE * rough.chance
        if is_chance or any(np.abs(rough.rows - rows).mean() < 1.0 for rows in tried):
            continue
        tried.append(rough.rows)
        path = np.column_stack([columns.astype(float), rough.rows[columns]])
        stations, width = _settled(screen, path, rough.width, every, lambda path: up)
        # Light over the noise of a sum across the line: largest for the right path and width.
        settled.append((float(stations.light.sum()) * math.sqrt(width), stations, width))
    if not settled:
        return None
    _, stations, width = max(settled, key=lambda each: each[0])
    reach = _EDGE_WIDTHS * width + every / 2
    u = stations.position[:, 0]
    inner = (u >= reach) & (u <= screen.light.shape[1] - 1 - reach)
    return trusted(stations.selected(inner), width)


def _ridges(screen: RectifiedScreen) -> Stations | None:
    """Stations of a line of any shape; None if nothing stands out."""
    every = max(4, round(max(screen.light.shape) / _STATIONS))
    parts = []
    for piece, (path, guess) in enumerate(rough_ridges(screen)):
        found, width = _settled(screen, path, guess, every, _normals)
        kept = trusted(replace(found, piece=np.full(len(found.strength), piece)), width)
        if kept is not None and len(kept.strength) >= _FEWEST_IN_ALL:
            parts.append(kept)
    return joined(parts) if parts else None


def _settled(
    screen: RectifiedScreen,
    path: Array,
    width: float,
    every: int,
    across: Callable[[Array], Array],
) -> tuple[Stations, float]:
    """Improve a rough path and width (in pixels) until the stations lie on them."""
    for _ in range(_ROUNDS):
        stations = measure_stations(screen, path, across(path), width, every)
        path = smooth_through(stations, path, every)
        width = line_width(screen, path, across(path), width)
    return measure_stations(screen, path, across(path), width, every), width


def _line(
    screen: RectifiedScreen,
    screen_map: ScreenMap,
    stations: Stations,
    shape: Shape,
    findings: list[Finding],
) -> TraceLine:
    places = screen.places(*stations.position.T)
    slopes = screen_map.slopes(places)
    step = np.einsum("nxy,ny->nx", slopes, stations.across) * screen.pixel
    extracted: Source = "extracted"
    spread = step * stations.uncertainty[:, None]
    return TraceLine(
        pixels=screen_map.pixels(places),
        pixel_covariance=np.einsum("nx,ny->nxy", spread, spread),
        width=stations.width * screen.pixel,
        strength=stations.strength,
        piece=_pieces(stations),
        source=(extracted,) * len(places),
        is_removed=np.zeros(len(places), dtype=bool),
        screen_map=screen_map,
        channel=screen.channel,
        shape=shape,
        findings=tuple(findings),
    )


def _is_gap(stations: Stations) -> NDArray[np.bool_]:
    """Say after which stations (s-1,) the line is broken."""
    step = np.linalg.norm(np.diff(stations.position, axis=0), axis=1)
    gap: NDArray[np.bool_] = (step > 2.2 * np.median(step)) | (np.diff(stations.piece) != 0)
    return gap


def _without_scraps(stations: Stations) -> Stations:
    """Leave out pieces of a few points: a walk through noise jumps, a line does not."""
    piece = _pieces(stations)
    return stations.selected(np.bincount(piece)[piece] >= FEWEST)


def _pieces(stations: Stations) -> NDArray[np.int64]:
    return np.append(0, np.cumsum(_is_gap(stations))).astype(np.int64)


def _about_screen(screen: RectifiedScreen) -> Iterator[Finding]:
    hidden = 1.0 - float(screen.is_seen.mean())
    if hidden > 0.01:
        yield Finding("outside", f"{100 * hidden:.0f} % of the screen lies outside the photograph")


def _about_line(screen: RectifiedScreen, stations: Stations, shape: Shape) -> Iterator[Finding]:
    places = screen.places(*stations.position.T)
    for n in np.flatnonzero(_is_gap(stations)):
        (u_from, v_from), (u_to, v_to) = places[n], places[n + 1]
        says = f"line broken: u from {_mm(u_from)} to {_mm(u_to)} is hidden or too dim"
        if shape == "loop":
            says = (
                f"line broken: hidden or too dim between ({_mm(u_from)}, {_mm(v_from)}) "
                f"and ({_mm(u_to)}, {_mm(v_to)})"
            )
        yield Finding("broken", says, float(min(u_from, u_to)), float(max(u_from, u_to)))
    clipped = float(stations.is_clipped.mean())
    if clipped > _MOST_CLIPPED:
        says = f"saturated: {100 * clipped:.0f} % of the points; the width is not to be trusted"
        yield Finding("saturated", f"{says}: expose less")
    if np.median(stations.strength) < _DIM:
        yield Finding("dim", "the line is hardly brighter than the noise: expose longer")
    if len(stations.strength) < 2 * FEWEST:
        yield Finding("short", f"only {len(stations.strength)} points could be found")


def _mm(length: float) -> str:
    return f"{1e3 * length:.1f} mm"


def _normals(path: Array) -> Array:
    """Unit vectors (m, 2) to the left of a path."""
    along = np.gradient(path, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    return np.column_stack([-along[:, 1], along[:, 0]])
