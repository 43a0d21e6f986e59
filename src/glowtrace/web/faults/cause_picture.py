"""What a cause would look like: a small drawing with what is seen over it, and words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.faults import Appearance
from glowtrace.faults.looks import NOTICED
from glowtrace.faults.seen_circle import BESIDE
from glowtrace.faults.statements import DARK, DULL, FAINT
from glowtrace.web.faults.glow_drawing import glow_of
from glowtrace.web.plan.small_picture import grid_path, outlines_path
from glowtrace.web.surface import Surface, surface_of

Array = NDArray[np.float64]


ENDS: Final = {
    "hits the glass": "ends on the glass",
    "hits the upper plate": "ends on the upper plate",
    "hits the lower plate": "ends on the lower plate",
    "returns to the anode": "comes back to the anode",
}
"""Kinds of picture of which it is said where the beam ends."""


def cause_picture(bench: Bench, appearance: Appearance, seen: Sequence[Sequence[float]]) -> str:
    """Give what a cause would look like, with the line that is seen over it, as SVG in mm.

    Parameters
    ----------
    bench
        Whose screen it is.
    appearance
        Of the cause.
    seen
        Points (u, v) of the line that is seen, mm; two points are the middle and edge of a spot.
    """
    surface = surface_of(bench)
    left, right, bottom, top = surface.view_mm
    turn = -1 if surface.mirrored else 1
    start = min(turn * left, turn * right)
    glow = glow_of(appearance)
    title = looks(bench, appearance)
    return (
        f'<svg class="small-picture cause-picture" viewBox="{start:.2f} {-top:.2f} '
        f'{right - left:.2f} {top - bottom:.2f}" role="img" '
        f'aria-label="{escape(title, quote=True)}" style="--glow: rgb{surface.glow}">'
        f'<g transform="scale({turn} -1)" fill="none" stroke-linecap="round" '
        'stroke-linejoin="round">'
        f"{_sheet(surface)}"
        f'<path class="drawn-outline" d="{outlines_path(surface)}"/>'
        f'<path class="glow-band" d="{glow.band}"/>'
        f'<path class="glow-middle" d="{glow.middle}"/>'
        f'<path class="cause-seen" d="{_seen(bench, seen)}"/>'
        "</g></svg>"
    )


def looks(bench: Bench, appearance: Appearance) -> str:
    """Say in words what a cause would look like."""
    what = "spot" if bench.plane.is_spot else "line"
    said = []
    if not appearance.is_lit:
        said.append(f"no {what}")
    elif appearance.brightness < FAINT:
        said.append(f"a faint {what}")
    if appearance.is_lit and (ends := ENDS.get(appearance.kind)):
        said.append(f"the {what} {ends}")
    if appearance.filament < DARK:
        said.append("the heater is dark")
    elif appearance.filament < DULL:
        said.append("the heater is dull")
    said += [
        words
        for words, holds in (
            (f"the {what} runs out sideways", appearance.aside > BESIDE),
            (f"the {what} comes and goes", appearance.flickers),
            (f"the {what} creeps for minutes", appearance.creep > NOTICED),
            ("a haze glows all through the tube", appearance.haze > 0.3),
            ("the high-tension meter shows nothing", appearance.meter_high_tension < 0.05),
            ("the high-tension meter shows less", 0.05 <= appearance.meter_high_tension < 0.9),
            ("the coil meter shows no current", appearance.meter_coils < 0.05),
            ("the plate meter shows no voltage", appearance.meter_plates < 0.05),
        )
        if holds
    ]
    special = f": {', '.join(said)}" if said else ""
    return f"It would look like this{special}."


def spot_ring(middle: Sequence[float], edge: Sequence[float], count: int = 12) -> Array:
    """Give points (n, 2) round a spot with this middle and a point of its edge."""
    radius = math.hypot(edge[0] - middle[0], edge[1] - middle[1])
    turns = np.linspace(0.0, 2.0 * math.pi, count, endpoint=False)
    return np.array(middle) + radius * np.stack([np.cos(turns), np.sin(turns)], axis=1)


def _sheet(surface: Surface) -> str:
    u0, u1, v0, v1 = surface.extent_mm
    return (
        f'<rect class="sketch-sheet" x="{u0}" y="{v0}" width="{u1 - u0}" height="{v1 - v0}"/>'
        f'<path class="drawn-grid" d="{grid_path(surface)}"/>'
    )


def _seen(bench: Bench, seen: Sequence[Sequence[float]]) -> str:
    if len(seen) < 2:
        return ""
    is_spot = bench.plane.is_spot
    points = spot_ring(seen[0], seen[1], 40).tolist() if is_spot else seen
    line = "M" + "L".join(f"{u:.2f} {v:.2f}" for u, v in points)
    return f"{line}Z" if is_spot else line
