"""Where to put a camera, and how to zoom, so that a part of the screen fills the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from glowtrace.bench.picture import Picture
from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.shots.lens import (
    ASPECT,
    Lens,
    angle_seen,
    away_for,
    magnification,
    sharp_between,
    usual_blur,
    width_seen,
    working_number,
)

CLEAR: Final = 0.3
"""m from the screen that a camera keeps, for hands and for its own magnets (common practice, no
source); local rules may want more."""
EASY: Final = 1.0
"""m to the screen that is wanted where the lens can zoom: from there all is seen straight."""
LEAST_PIXELS: Final = 6e3
"""Pixels a metre with which the line can be read within a tenth of a millimetre."""
_MARGIN: Final = 1.12
_ROOMY: Final = 1.5
_SQUARES: Final = 4.0
"""Squares of the grid that a close picture is wide, at least, so that its size can be told."""
_NEARLY_ALL: Final = 0.8
_SIGMAS: Final = 2.0


@dataclass(frozen=True)
class Box:
    """A part of the screen's plane, in its u and v in m."""

    u0: float
    u1: float
    v0: float
    v1: float

    @property
    def width(self) -> float:
        """Along u."""
        return self.u1 - self.u0

    @property
    def height(self) -> float:
        """Along v."""
        return self.v1 - self.v0

    def holds(self, other: Box) -> bool:
        """Whether all of another one lies in it."""
        is_within = self.u0 <= other.u0 and other.u1 <= self.u1
        return is_within and self.v0 <= other.v0 and other.v1 <= self.v1


@dataclass(frozen=True)
class Framing:
    """A camera's place and what it takes in.

    Attributes
    ----------
    box
        What is in the picture.
    away
        From the lens to the screen, m.
    focal
        Focal length, m.
    zoom
        How many times the picture is cut out of what the sensor takes in; 1 for all of it.
    angle
        Across the picture, rad.
    magnification
        On the sensor.
    working_number
        The f-number that counts.
    sharp
        Nearest and farthest distance that look sharp, m.
    pixels
        Of the film for each m of the screen.
    """

    box: Box
    away: float
    focal: float
    zoom: float
    angle: float
    magnification: float
    working_number: float
    sharp: tuple[float, float]
    pixels: float

    @property
    def is_coarse(self) -> bool:
        """Whether the line cannot be read as finely as usual."""
        return self.pixels < LEAST_PIXELS


def frame_box(lens: Lens, box: Box, clear: float = CLEAR) -> Framing:
    """Give the place of a camera from which a box fills its picture.

    The lens zooms so that it stands `EASY` away, as far as it can; nearer than it gets sharp, or
    than `clear` in m, it never comes: the rest is cut out of the picture.

    Parameters
    ----------
    lens
        The camera.
    box
        Of any shape; the picture holds all of it.
    clear
        Distance that is kept, m.
    """
    framed = _widened(box, 0.0)
    enlarged = lens.sensor_width / framed.width
    focal = min(max(EASY / (1.0 + 1.0 / enlarged), lens.shortest), lens.longest)
    away = max(away_for(focal, enlarged), lens.nearest, clear)
    seen = width_seen(lens.sensor_width, focal, away)
    zoom = max(seen / framed.width, 1.0)
    there = magnification(focal, away)
    return Framing(
        framed,
        away,
        focal,
        zoom,
        angle_seen(lens.sensor_width / zoom, focal, away),
        there,
        working_number(lens.aperture, there),
        sharp_between(focal, lens.aperture, away, usual_blur(lens.sensor_width / zoom)),
        min(lens.recorded, lens.pixels / zoom) / framed.width,
    )


def joined(boxes: Sequence[Box | None]) -> tuple[Box | None, ...]:
    """Give shots in a row one box where that does: nobody turns a tripod in the dark for less.

    It does where it is not much wider than what each of them wants; None stays None.
    """
    found: list[Box | None] = []
    while len(found) < len(boxes):
        first = boxes[len(found)]
        union, run = first, 1
        smallest = 0.0 if first is None else first.width
        for box in boxes[len(found) + 1 :]:
            if union is None or box is None:
                break
            wider, smallest = _union(union, box), min(smallest, box.width)
            if wider.width > _ROOMY * smallest:
                break
            union, run = wider, run + 1
        found += [union] * run
    return tuple(found)


def _union(one: Box, other: Box) -> Box:
    both = Box(
        min(one.u0, other.u0), max(one.u1, other.u1), min(one.v0, other.v0), max(one.v1, other.v1)
    )
    return _widened(both, 0.0)


def whole_screen(plane: ScreenPlane) -> Box:
    """Give the screen with a margin, so that its border is in the picture."""
    return _widened(Box(*plane.extent), 0.0, _MARGIN)


def shown_effect(picture: Picture, before: Picture | None) -> Box | None:
    """Give what a picture shows and what it changed; None without light.

    Where that is nearly the whole screen, it is all of it.

    Parameters
    ----------
    picture
        What is to be seen.
    before
        What was seen before, which is to be in the picture as well.
    """
    whole = whole_screen(picture.plane)
    lights = (_light(picture), None if before is None else _light(before))
    shown = [box for box in lights if box is not None]
    if not shown:
        return None
    box = Box(
        min(each.u0 for each in shown), max(each.u1 for each in shown),
        min(each.v0 for each in shown), max(each.v1 for each in shown),
    )  # fmt: skip
    box = _widened(box, _SQUARES * picture.plane.grid_pitch, _MARGIN)
    return whole if box.width > _NEARLY_ALL * whole.width else box


def _light(picture: Picture) -> Box | None:
    trace = picture.mean_trace
    if len(trace.u) == 0:
        return None
    lit = picture.plane.holds(np.column_stack([trace.u, trace.v]))
    if not lit.any():
        return None
    u, v, aside = trace.u[lit], trace.v[lit], _SIGMAS * trace.width_v[lit]
    along = aside if picture.plane.is_spot else 0.0 * aside
    return Box(
        float((u - along).min()), float((u + along).max()),
        float((v - aside).min()), float((v + aside).max()),
    )  # fmt: skip


def _widened(box: Box, least: float, margin: float = 1.0) -> Box:
    """Give the box of the film's shape round another one, with a margin."""
    width = max(margin * box.width, margin * ASPECT * box.height, least)
    u, v = (box.u0 + box.u1) / 2, (box.v0 + box.v1) / 2
    return Box(u - width / 2, u + width / 2, v - width / ASPECT / 2, v + width / ASPECT / 2)
