"""The gridded screen as a page element, and what a bench's screen looks like on it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

from nicegui import ui

from glowtrace.bench.model import Bench, EndFace, GasGlow, Sheet, Sphere
from glowtrace.web.controls import put_prop
from glowtrace.web.glow import Box

PHOSPHOR_GLOW = (92, 240, 196)
GAS_GLOW = (128, 176, 255)
ROOM_MM = 1.0
BLUR_MM = 0.2
"""Radius (1 sigma) of the light around one landing: grain and scattering make it 0.4 mm wide."""


Edges = tuple[float, float, float, float]
Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Surface:
    """What the page draws a picture on. Lengths in mm, as the page's script wants them.

    `extent_mm` is the screen itself; `view_mm` takes in the outlines of plates or bulb around it.
    `half_light` is the light that looks half as bright as the brightest: share of the electrons
    per mm2 on phosphor, path length per mm2 and electron in gas.
    """

    extent_mm: Edges
    view_mm: Edges
    grid_mm: float
    blur_mm: float
    half_light: float
    glow: tuple[int, int, int]
    across: str
    up: str
    mirrored: bool
    outlines_mm: tuple[Outline, ...]


def screen_box(bench: Bench) -> Box:
    """Give the extent of the bench's screen in its own coordinates (u, v)."""
    screen = bench.screen
    if isinstance(screen, Sheet):
        stretch = 1 / math.cos(screen.angle)
        half = screen.height / 2
        return Box(screen.x_from * stretch, screen.x_to * stretch, -half, half)
    if isinstance(screen, EndFace):
        return Box(-screen.width / 2, screen.width / 2, -screen.height / 2, screen.height / 2)
    return Box(screen.x_from, screen.x_to, screen.y_from, screen.y_to)


def screen_place_of_x(bench: Bench, x: float) -> float:
    """Give u on the screen of a place x along the beam, in m."""
    return x / math.cos(bench.screen.angle) if isinstance(bench.screen, Sheet) else x


def x_of_screen_place(bench: Bench, u: float) -> float:
    """Give the place x along the beam of u on the screen, in m."""
    return u * math.cos(bench.screen.angle) if isinstance(bench.screen, Sheet) else u


def surface_of(bench: Bench) -> Surface:
    """Give what the page draws this bench's pictures on."""
    screen = bench.screen
    box = screen_box(bench)
    is_gas = isinstance(screen, GasGlow)
    is_face = isinstance(screen, EndFace)
    along_mm = 1e3 * (box.u_high - box.u_low)
    outlines = () if is_face else tuple(_outlines(bench))
    return Surface(
        extent_mm=box.millimetres,
        view_mm=_around(box.millimetres, outlines),
        grid_mm=1e3 * screen.grid_pitch,
        blur_mm=2 * BLUR_MM if is_gas else BLUR_MM,
        half_light=0.2 if is_gas else 0.02 if is_face else 0.35 / along_mm,
        glow=GAS_GLOW if is_gas else PHOSPHOR_GLOW,
        across="z" if is_face else "u" if _is_inclined(bench) else "x",
        up="y",
        # The audience looks at the face from outside, against the beam: z grows to its left.
        mirrored=is_face,
        outlines_mm=outlines,
    )


def _is_inclined(bench: Bench) -> bool:
    """Tell whether lengths along the sheet differ visibly (by 2 %) from those along the beam."""
    return isinstance(bench.screen, Sheet) and math.cos(bench.screen.angle) < 0.98


def _around(extent: Edges, outlines: tuple[Outline, ...]) -> Edges:
    """Give the edges of a view that holds the screen and the outlines, with a little room."""
    if not outlines:
        return extent
    us, vs = zip(*(point for outline in outlines for point in outline), strict=True)
    low_u, high_u = min(extent[0], *us), max(extent[1], *us)
    return low_u, high_u, min(extent[2], *vs) - ROOM_MM, max(extent[3], *vs) + ROOM_MM


def _outlines(bench: Bench) -> list[Outline]:
    """Give the plates seen from the side, and the bulb, in mm."""
    outlines: list[Outline] = []
    if bench.plates is not None:
        plates = bench.plates
        middle = plates.start + plates.length / 2
        for side, tilt in ((1, plates.tilt_upper), (-1, plates.tilt_lower)):
            y = plates.height_offset + side * plates.gap / 2
            dx, dy = math.cos(tilt) * plates.length / 2, math.sin(tilt) * plates.length / 2
            ends = ((middle - dx, y - dy), (middle + dx, y + dy))
            outlines.append(tuple((1e3 * screen_place_of_x(bench, x), 1e3 * y) for x, y in ends))
    if isinstance(bench.screen, GasGlow) and isinstance(bench.envelope, Sphere):
        x, y, _ = bench.envelope.centre
        radius = bench.envelope.radius
        turns = [2 * math.pi * k / 96 for k in range(97)]
        circle = ((x + radius * math.cos(a), y + radius * math.sin(a)) for a in turns)
        outlines.append(tuple((1e3 * u, 1e3 * v) for u, v in circle))
    return outlines


class GriddedScreen(ui.element, component="screen.js", esm={"glowtrace-light": "light"}):
    """The screen on the page: draws messages of `glow_message`, zooms, pans, tells places.

    Parameters
    ----------
    on_choose
        Called with the place u in m where the visitor clicked.
    """

    def __init__(self, surface: Surface, on_choose: Callable[[float], None]) -> None:
        super().__init__()
        self.set_surface(surface)
        self.on("choose", lambda event: on_choose(1e-3 * float(event.args)))

    def on_drawn(self, call: Callable[[int], None]) -> None:
        """Have something called with a picture's number once the picture stands on the page."""
        self.on("drawn", lambda event: call(int(event.args)))

    def set_surface(self, surface: Surface) -> None:
        """Put another bench's screen on the page."""
        self.props["surface"] = asdict(surface)
        self.style(f"--glow: rgb{surface.glow}")

    def set_marker(self, u: float | None) -> None:
        """Mark a place u (m) along the screen; None removes the mark."""
        put_prop(self, "marker", None if u is None else 1e3 * u)

    def describe(self, text: str) -> None:
        """Say in words what the screen shows."""
        put_prop(self, "description", text)

    def show(self, message: dict[str, Any]) -> None:
        """Send a picture."""
        self.run_method("show", message)
