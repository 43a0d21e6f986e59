"""A predicted picture as a small drawing: grid, plates, glow, and the textbook's dashed line."""

from __future__ import annotations

from html import escape

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.picture import Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.web.showing import textbook_line
from glowtrace.web.surface import Surface, surface_of

Array = NDArray[np.float64]

ELECTRONS, PATHS = 700, 20
_POINTS = 90
"""Along a line, at most about."""


def small_picture(prepared: PreparedBench, settings: Settings, title: str) -> str:
    """Give the picture of a bench at its settings as SVG in millimetres of the screen.

    Parameters
    ----------
    prepared, settings
        What is drawn.
    title
        Says what it shows, for those who do not see it.
    """
    is_gas = prepared.bench.plane.glows
    count = PATHS if is_gas else ELECTRONS
    picture = prepared.picture(settings, electrons=count, paths=count if is_gas else 0)
    textbook = textbook_line(prepared, settings, is_exact=True)
    return draw(surface_of(prepared.bench), picture, textbook, title)


def draw(surface: Surface, picture: Picture, textbook: Array, title: str) -> str:
    """Give a picture and the textbook's trace (k, 2) in m on a surface as SVG."""
    left, right, bottom, top = surface.view_mm
    turn = -1 if surface.mirrored else 1
    start = min(turn * left, turn * right)
    glow = _paths(picture.paths) if picture.plane.glows else _dots(picture.landings)
    unit = (top - bottom) / 100
    return (
        f'<svg class="small-picture" viewBox="{start:.2f} {-top:.2f} {right - left:.2f} '
        f'{top - bottom:.2f}" role="img" aria-label="{escape(title, quote=True)}" '
        f'style="--glow: rgb{surface.glow}">'
        f'<g transform="scale({turn} -1)" fill="none" stroke-linecap="round">'
        f'<path class="drawn-grid" d="{grid_path(surface)}"/>'
        f'<path class="drawn-outline" d="{outlines_path(surface)}"/>'
        f'<path class="drawn-halo" stroke-width="{4.5 * unit:.2f}" d="{glow}"/>'
        f'<path class="drawn-glow" stroke-width="{1.3 * unit:.2f}" d="{glow}"/>'
        f'<path class="drawn-textbook" stroke-dasharray="5 4" d="{_line(1e3 * textbook)}"/>'
        "</g></svg>"
    )


def grid_path(surface: Surface) -> str:
    """Give the printed grid as path data in mm."""
    u0, u1, v0, v1 = surface.extent_mm
    pitch = surface.grid_mm
    across = [u for n in _whole(u0, u1, pitch) if u0 <= (u := n * pitch) <= u1]
    up = [v for n in _whole(v0, v1, pitch) if v0 <= (v := n * pitch) <= v1]
    return "".join(
        [f"M{u:.1f} {v0:.1f}V{v1:.1f}" for u in across]
        + [f"M{u0:.1f} {v:.1f}H{u1:.1f}" for v in up]
    )


def _whole(low: float, high: float, pitch: float) -> range:
    return range(int(np.floor(low / pitch)), int(np.ceil(high / pitch)) + 1)


def outlines_path(surface: Surface) -> str:
    """Give what stands around the screen as path data in mm."""
    return "".join(
        "M" + "L".join(f"{u:.1f} {v:.1f}" for u, v in outline) for outline in surface.outlines_mm
    )


def _dots(landings: Array) -> str:
    return "".join(f"M{u:.2f} {v:.2f}h0" for u, v in 1e3 * landings)


def _paths(paths: Array) -> str:
    return "".join(_line(1e3 * path[:, :2]) for path in paths)


def _line(points: Array) -> str:
    seen = points[np.isfinite(points).all(axis=1)]
    seen = seen[:: max(1, len(seen) // _POINTS)]
    return "M" + "L".join(f"{u:.2f} {v:.2f}" for u, v in seen) if len(seen) > 1 else ""
