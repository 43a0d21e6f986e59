"""The arrangement of a clip's frame: its screens, the large numbers, the words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from glowtrace.bench.model import Bench
from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.report.clips.clip import Pixels
from glowtrace.report.clips.screen import Extent, Screen, box_corners, draw_screen
from glowtrace.report.clips.slate import Slate
from glowtrace.report.look import Look
from glowtrace.report.shade import glow_colours, shade
from glowtrace.words.bench import bench_name

Array = NDArray[np.float64]
_LOW: Final = 720  # lines of the frame that the sizes below are for
_WIDE: Final = 1.5  # from this width over height a screen stands above the knobs, else beside
LETTERS: Final = 31  # lines of the frame
"""Smallest size of letters, from the top of an H to the foot of a g at least 1/25 of the picture's
height: seen from six heights away, where a last row sits, capitals are some 16 minutes of arc high,
which display standards ask for at least (from memory)."""
_SECOND: Final = 34  # lines of the frame from a line of words to the next


class Fact(NamedTuple):
    """A number that is shown large: its name, itself with its unit, more words to it.

    `is_turned` says that the clip is about it, `arrow` which arrow of the picture it is of.
    """

    name: str
    value: str
    note: str = ""
    is_turned: bool = False
    arrow: Literal["electric", "magnetic"] | None = None


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
        top, bottom = (142 if self.names else 100), (516 if self.is_wide else 660)
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
            self.bench.plane.is_mirrored,
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
        slate.shape(box_corners(0, 0, width, height), look.ground)
        for n, screen in enumerate(self.screens):
            draw_screen(slate, screen, self.bench, look, s, self.has_grid[n], LETTERS)
            if self.names:
                left, top, right, _ = screen.rectangle
                slate.text((left + right) / 2, top - 24 * s, self.names[n], LETTERS * s, look.ink,
                           side="middle")  # fmt: skip
        self._write_head(slate)
        return slate.pixels().copy()

    def _write_head(self, slate: Slate) -> None:
        look, s, right = self.look, self.unit, self.size[0] - 40 * self.unit
        model = f"computed, {self.model_words}"
        room = right - 80 * s - slate.text_width(model, LETTERS * s)
        name = bench_name(self.bench)
        size = _fitting(slate, name, 32 * s, room, s)
        slate.text(40 * s, 32 * s, _cut(slate, name, size, room), size, look.ink)
        slate.text(right, 32 * s, model, LETTERS * s, look.quiet, side="right")
        if self.subtitle:
            slate.text(40 * s, 70 * s, self.subtitle, LETTERS * s, look.quiet)

    def put_facts(self, slate: Slate, facts: Sequence[Fact]) -> None:
        """Write the large numbers, below the screens or beside them; what is turned stands out."""
        s, (width, height) = self.unit, self.size
        if self.is_wide:
            share = (width - 64 * s) / max(3, len(facts))
            places = [(40 * s + n * share, height - 148 * s) for n in range(len(facts))]
        else:
            left = self.screens[0].rectangle[2] + 48 * s
            share = width - left - 8 * s
            places = [(left, 122 * s + n * 146 * s) for n in range(len(facts))]
        has_turned = any(fact.is_turned for fact in facts)
        for fact, (x, y) in zip(facts, places, strict=True):
            colour = self.look.quiet if has_turned and not fact.is_turned else self.look.ink
            self._put_fact(slate, fact, x, y, share - 16 * s, colour)

    def _put_fact(
        self, slate: Slate, fact: Fact, x: float, y: float, room: float, colour: str
    ) -> None:
        s, bold = self.unit, fact.is_turned
        large = _fitting(slate, fact.value, 42 * s, room, 6 * s, bold=bold)
        beside = 0.0
        if fact.arrow is not None:
            beside = 46 * s
            at = np.array([x, y])
            self._put_arrow(slate, at, at + np.array([36 * s, 0.0]), fact.arrow)
        name = colour if bold else self.look.quiet
        slate.text(x + beside, y, fact.name, LETTERS * s, name)
        slate.text(x, y + 43 * s, fact.value, large, colour, bold=bold)
        for n, line in enumerate(broken_lines(slate, fact.note, LETTERS * s, room)):
            slate.text(x, y + (84 + n * _SECOND) * s, line, LETTERS * s, self.look.quiet)

    def put_force(self, slate: Slate, number: int, at: Array, force: Array, scale: float,
                  kind: Literal["electric", "magnetic"]) -> None:  # fmt: skip
        """Draw a force (u and v, N) as an arrow from a place (2,) on the frame.

        `scale` is the length in pixels of an arrow for one N; the magnetic one is hollow.
        """
        end = at + scale * self.screens[number].direction(float(force[0]), float(force[1]))
        self._put_arrow(slate, at, end, kind)

    def _put_arrow(self, slate: Slate, at: Array, end: Array,
                   kind: Literal["electric", "magnetic"]) -> None:  # fmt: skip
        look, s = self.look, self.unit
        if kind == "electric":
            slate.arrow(at, end, look.electric, 6 * s, ground=look.halo)
        else:
            slate.arrow(at, end, look.magnetic, 6 * s, head="open", ground=look.halo)

    def put_glow(self, slate: Slate, number: int, light: Array, full: float, plane: ScreenPlane,
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
        slate.image(_colours(self.look, plane)[lit], screen.left + left, screen.top + top)


def _fitting(
    slate: Slate, text: str, size: float, room: float, step: float, *, bold: bool = False
) -> float:
    """Give the size in which a line of text fits its room, smaller by whole steps where it must.

    So a number that grows by a hair does not make its letters dance. None is too small to be read
    from the last row: then it is rather too long.
    """
    wide = slate.text_width(text, size, bold=bold)
    too_much = max(0.0, size * (1.0 - room / wide)) if wide else 0.0
    return max(size - step * math.ceil(too_much / step), LETTERS * slate.height / _LOW)


def _cut(slate: Slate, text: str, size: float, room: float) -> str:
    """Give a line of text, cut where it would run into what stands beside it."""
    if slate.text_width(text, size) <= room:
        return text
    kept = len(text) - 1
    while kept > 1 and slate.text_width(text[:kept] + "…", size) > room:
        kept -= 1
    return text[:kept].rstrip() + "…"


def broken_lines(slate: Slate, text: str, size: float, room: float) -> list[str]:
    """Break words into lines that fit their room."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and slate.text_width(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


@cache
def _colours(look: Look, plane: ScreenPlane) -> Pixels:
    """Give the colours (256, 4) of shades from none to full."""
    colours = glow_colours(look, plane)(np.linspace(0.0, 1.0, 256))
    return np.asarray(np.rint(255 * colours), dtype=np.uint8)
