"""What stands still in a clip, and where on the frame the rest goes: screens, knobs, words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from glowtrace.bench.model import Bench, EndFace, Sheet
from glowtrace.report.clip import Pixels
from glowtrace.report.clip_slate import Slate
from glowtrace.report.look import Look
from glowtrace.report.shade import glow_colours, shade

Array = NDArray[np.float64]
Extent = tuple[float, float, float, float]
"""(u0, u1, v0, v1) of a picture plane in m."""

_LOW: Final = 720  # lines of the frame that the sizes below are for
_WIDE: Final = 1.5  # from this width over height a screen stands above the knobs, else beside
_MOST_NUMBERS: Final = 12  # along one side of a screen


class Fact(NamedTuple):
    """A number that is shown large: its name, itself with its unit, more words to it.

    `is_turned` says that the clip is about it.
    """

    name: str
    value: str
    note: str = ""
    is_turned: bool = False


@dataclass(frozen=True)
class Screen:
    """A picture plane on the frame.

    Attributes
    ----------
    left, top, width, height
        Where it is, in pixels.
    extent
        What it shows.
    is_mirrored
        Whether u runs to the left.
    """

    left: int
    top: int
    width: int
    height: int
    extent: Extent
    is_mirrored: bool = False

    @property
    def rectangle(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom in pixels."""
        return self.left, self.top, self.left + self.width, self.top + self.height

    @property
    def scale(self) -> float:
        """Pixels a metre."""
        return self.width / (self.extent[1] - self.extent[0])

    def places(self, u: Array, v: Array) -> Array:
        """Give where places (u, v) in m are on the frame (..., 2), in pixels."""
        u0, u1, _, v1 = self.extent
        away = u1 - u if self.is_mirrored else u - u0
        x = self.left + self.scale * away
        return np.stack([x, self.top + self.scale * (v1 - v)], axis=-1)

    def direction(self, u: float, v: float) -> Array:
        """Give a direction on the frame (2,), in pixels, for one in the picture plane."""
        return np.array([-u if self.is_mirrored else u, -v])


@dataclass(frozen=True, eq=False)
class Board:
    """A frame's arrangement for one or two screens.

    Parameters
    ----------
    bench
        Whose screen is shown.
    size
        Of the frame in pixels.
    extents
        Of the picture planes, from left to right: one or two.
    model_words
        Which model gave the picture; stands in the head.
    look
        Its colours.
    names
        Of the screens, where there are two.
    subtitle
        More words below the bench's name.
    has_grid
        For each screen, whether grid and plates stand still on it.
    """

    bench: Bench
    size: tuple[int, int]
    extents: tuple[Extent, ...]
    model_words: str
    look: Look
    names: tuple[str, ...] = ()
    subtitle: str = ""
    has_grid: tuple[bool, ...] = (True,)

    @property
    def unit(self) -> float:
        """Pixels that stand for one of a frame of 720 lines."""
        return self.size[1] / _LOW

    @property
    def is_wide(self) -> bool:
        """Whether the facts stand below the screens, not beside."""
        u0, u1, v0, v1 = self.extents[0]
        return len(self.extents) > 1 or (u1 - u0) / (v1 - v0) >= _WIDE

    @cached_property
    def screens(self) -> tuple[Screen, ...]:
        """Where the picture planes are."""
        s, (width, _) = self.unit, self.size
        top, bottom = (132 if self.names else 88), (548 if self.is_wide else 660)
        right = width / s - 40 if self.is_wide else 0.62 * width / s
        share = (right - 84 - 76 * (len(self.extents) - 1)) / len(self.extents)
        return tuple(
            self._screen(extent, 84 + n * (share + 76), top, share, bottom - top)
            for n, extent in enumerate(self.extents)
        )

    def _screen(
        self, extent: Extent, left: float, top: float, width: float, height: float
    ) -> Screen:
        """Fit a plane into its room, undistorted, at its left and in the middle of its height."""
        s = self.unit
        u0, u1, v0, v1 = extent
        scale = min(width / (u1 - u0), height / (v1 - v0))
        wide, high = scale * (u1 - u0), scale * (v1 - v0)
        left, top = left + (width - wide) / 2, top + (height - high) / 2
        return Screen(
            round(s * left), round(s * top), round(s * wide), round(s * high), extent,
            isinstance(self.bench.screen, EndFace),
        )  # fmt: skip

    def slate(self) -> Slate:
        """Give a frame with all that stands still on it."""
        slate = Slate(*self.size)
        slate.begin_with(self._still)
        return slate

    @cached_property
    def _still(self) -> Pixels:
        slate, look, s = Slate(*self.size), self.look, self.unit
        width, height = self.size
        slate.shape(_box(0, 0, width, height), look.ground)
        for n, screen in enumerate(self.screens):
            _draw_screen(slate, screen, self.bench, look, s, self.has_grid[n])
            if self.names:
                left, top, right, _ = screen.rectangle
                slate.text((left + right) / 2, top - 26 * s, self.names[n], 23 * s, look.ink,
                           side="middle")  # fmt: skip
        self._write_head(slate)
        return slate.pixels().copy()

    def _write_head(self, slate: Slate) -> None:
        look, s, right = self.look, self.unit, self.size[0] - 40 * self.unit
        slate.text(40 * s, 38 * s, self.bench.name, 27 * s, look.ink)
        slate.text(right, 32 * s, f"computed, {self.model_words}", 19 * s, look.quiet, side="right")
        if self.bench.invented:
            slate.text(right, 58 * s, "an invented bench, for demonstration", 17 * s, look.quiet,
                       side="right")  # fmt: skip
        if self.subtitle:
            slate.text(40 * s, 66 * s, self.subtitle, 16 * s, look.quiet)

    def put_facts(self, slate: Slate, facts: Sequence[Fact]) -> None:
        """Write the large numbers, below the screens or beside them; what is turned stands out."""
        s, (width, height) = self.unit, self.size
        if self.is_wide:
            share = (width - 80 * s) / max(3, len(facts))
            places = [(40 * s + n * share, height - 112 * s) for n in range(len(facts))]
        else:
            left = self.screens[0].rectangle[2] + 64 * s
            share = width - left - 16 * s
            places = [(left, 130 * s + n * 122 * s) for n in range(len(facts))]
        has_turned = any(fact.is_turned for fact in facts)
        for fact, (x, y) in zip(facts, places, strict=True):
            colour = self.look.quiet if has_turned and not fact.is_turned else self.look.ink
            self._put_fact(slate, fact, x, y, share - 24 * s, colour)

    def _put_fact(
        self, slate: Slate, fact: Fact, x: float, y: float, room: float, colour: str
    ) -> None:
        s, bold = self.unit, fact.is_turned
        large = 42 * s
        wide = slate.text_width(fact.value, large, bold=bold)
        # In whole steps, so that a number that grows by a hair does not make letters dance.
        large -= 6 * s * math.ceil(max(0.0, large * (1 - room / wide)) / (6 * s)) if wide else 0.0
        slate.text(x, y, fact.name, 19 * s, colour if bold else self.look.quiet)
        slate.text(x, y + 40 * s, fact.value, large, colour, bold=bold)
        if fact.note:
            slate.text(x, y + 77 * s, fact.note, 16 * s, self.look.quiet)

    def put_force(self, slate: Slate, number: int, at: Array, force: Array, scale: float,
                  kind: Literal["electric", "magnetic"]) -> None:  # fmt: skip
        """Draw a force (u and v, N) as an arrow from a place (2,) on the frame.

        `scale` is the length in pixels of an arrow for one N; the magnetic one is hollow.
        """
        look, s = self.look, self.unit
        end = at + scale * self.screens[number].direction(float(force[0]), float(force[1]))
        if kind == "electric":
            slate.arrow(at, end, look.electric, 6 * s, ground=look.halo)
        else:
            slate.arrow(at, end, look.magnetic, 6 * s, head="open", ground=look.halo)

    def put_glow(self, slate: Slate, number: int, light: Array, full: float, view: str,
                 strength: float = 1.0) -> None:  # fmt: skip
        """Put light (v, u), rows upwards, onto a screen; `full` is shown as full light.

        `strength` below 1 dims it, so that something can be told in front of it.
        """
        screen = self.screens[number]
        seen = strength * shade(light, full)[::-1]
        if screen.is_mirrored:
            seen = seen[:, ::-1]
        small = Image.fromarray(np.rint(255 * seen).astype(np.uint8))
        large = np.asarray(small.resize((screen.width, screen.height), Image.Resampling.BICUBIC))
        rows, columns = np.flatnonzero(large.any(axis=1)), np.flatnonzero(large.any(axis=0))
        if len(rows) == 0:
            return
        # Only what is lit is coloured: a line fills a small part of its screen.
        top, left = int(rows[0]), int(columns[0])
        lit = large[top : int(rows[-1]) + 1, left : int(columns[-1]) + 1]
        slate.image(_colours(self.look, view)[lit], screen.left + left, screen.top + top)


def _draw_screen(
    slate: Slate, screen: Screen, bench: Bench, look: Look, s: float, has_grid: bool
) -> None:
    """Draw ground and frame, and on them grid, its numbers in mm and plates."""
    corners = _box(*screen.rectangle)
    slate.shape(corners, look.screen)
    if has_grid:
        _draw_grid(slate, screen, bench, look, s)
    slate.line(np.vstack([corners, corners[:1]]), look.frame, 1.6 * s)


def _draw_grid(slate: Slate, screen: Screen, bench: Bench, look: Look, s: float) -> None:
    left, _, _, bottom = screen.rectangle
    slate.clip_to(screen.rectangle)
    u0, u1, v0, v1 = screen.extent
    pitch = bench.screen.grid_pitch
    for u in _multiples(u0, u1, pitch):
        slate.line(screen.places(np.full(2, u), np.array([v0, v1])), look.grid, 1.4 * s)
    for v in _multiples(v0, v1, pitch):
        colour = look.frame if abs(v) < pitch / 2 else look.grid
        slate.line(screen.places(np.array([u0, u1]), np.full(2, v)), colour, 1.4 * s)
    _draw_plates(slate, screen, bench, look, s)
    slate.clip_to(None)
    skip = next(n for n in (1, 2, 5, 10, 20, 50, 1000)
                if max(u1 - u0, v1 - v0) / (n * pitch) <= _MOST_NUMBERS)  # fmt: skip
    for u in _multiples(u0, u1, skip * pitch):
        x, _ = screen.places(np.array(u), np.array(v0))
        slate.text(float(x), bottom + 16 * s, _mm(u), 14 * s, look.quiet, side="middle")
    for v in _multiples(v0, v1, skip * pitch):
        _, y = screen.places(np.array(u0), np.array(v))
        slate.text(left - 9 * s, float(y), _mm(v), 14 * s, look.quiet, side="right")
    slate.text(left - 24 * s, bottom + 16 * s, "mm", 14 * s, look.quiet, side="right")


def _draw_plates(slate: Slate, screen: Screen, bench: Bench, look: Look, s: float) -> None:
    plates = bench.plates
    if plates is None or isinstance(bench.screen, EndFace):
        return
    angle = bench.screen.angle if isinstance(bench.screen, Sheet) else 0.0
    half = plates.length / 2 * np.array([-1.0, 1.0])
    middle = plates.start + plates.length / 2
    for side, tilt in ((1, plates.tilt_upper), (-1, plates.tilt_lower)):
        u = (middle + half * math.cos(tilt)) / math.cos(angle)
        v = plates.height_offset + side * plates.gap / 2 + half * math.sin(tilt)
        slate.line(screen.places(u, v), look.quiet, 5 * s)


@cache
def _colours(look: Look, view: str) -> Pixels:
    """Give the colours (256, 4) of shades from none to full."""
    colours = glow_colours(look, view)(np.linspace(0.0, 1.0, 256))
    return np.asarray(np.rint(255 * colours), dtype=np.uint8)


def _multiples(low: float, high: float, pitch: float) -> list[float]:
    first, last = math.ceil(low / pitch - 1e-9), math.floor(high / pitch + 1e-9)
    return [n * pitch for n in range(first, last + 1)]


def _mm(length: float) -> str:
    return f"{1e3 * length:.0f}".replace("-", "−")


def _box(left: float, top: float, right: float, bottom: float) -> Array:
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], dtype=float)
