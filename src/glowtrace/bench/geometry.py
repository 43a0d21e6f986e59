"""Whether plates and screens leave the beam free and each other alone.

Each check gives Problems, none when all is well. Edges are taken in the x-y plane, where the plates
stand edge-on; lengths in m.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from glowtrace.bench.parts import EndFace, GasGlow, Gun, Plates, Screen, Sheet
from glowtrace.errors import Problem
from glowtrace.units import exact_text

ANODE_CLEARANCE: Final = 1e-3
"""Least distance of a plate from the anode disc, m."""


class Edge(NamedTuple):
    """A plate seen along z: the points (x, y) of its two ends, m."""

    x_near: float
    y_near: float
    x_far: float
    y_far: float

    def height_at(self, x: float) -> float:
        """Give y of the plate at x, m."""
        slope = (self.y_far - self.y_near) / (self.x_far - self.x_near)
        return self.y_near + slope * (x - self.x_near)


def plate_edges(plates: Plates) -> tuple[Edge, Edge]:
    """Give the upper and the lower plate seen along z.

    Parameters
    ----------
    plates
        The plates with their tilts and height offset.

    Returns
    -------
    tuple of Edge
        Upper plate, lower plate.
    """
    middle = plates.start + plates.length / 2
    return (
        _edge(middle, plates.height_offset + plates.gap / 2, plates.length, plates.tilt_upper),
        _edge(middle, plates.height_offset - plates.gap / 2, plates.length, plates.tilt_lower),
    )


def _edge(x: float, y: float, length: float, tilt: float) -> Edge:
    """Give a plate turned by its tilt about its centre (x, y)."""
    along, up = length / 2 * math.cos(tilt), length / 2 * math.sin(tilt)
    return Edge(x - along, y - up, x + along, y + up)


def plates_in_beam(gun: Gun, plates: Plates) -> Iterator[Problem]:
    """Check that the plates touch neither each other nor the undeflected beam."""
    half_beam = gun.aperture_height / 2
    half_gap = plates.gap / 2
    if half_gap <= half_beam:
        yield Problem(
            "plates.gap",
            _mm(plates.gap),
            f"the beam is {_mm(gun.aperture_height)} high: choose more than that",
        )
        return
    room = half_gap - half_beam
    if abs(plates.height_offset) >= room:
        yield Problem(
            "plates.height_offset",
            _mm(plates.height_offset),
            f"a plate would stand in the beam: choose between {_mm(-room)} and {_mm(room)}",
        )
        return
    if _plates_touch(plates):
        yield Problem(
            "plates.tilt_upper",
            f"{_deg(plates.tilt_upper)} (with tilt_lower {_deg(plates.tilt_lower)})",
            "the plates would touch each other: choose tilts that are nearer to each other",
        )
        return
    yield from _tilts_into_beam(plates, half_beam)


def _plates_touch(plates: Plates) -> bool:
    """Say whether the lower plate reaches the upper one anywhere."""
    upper, lower = plate_edges(plates)
    ends = (max(upper.x_near, lower.x_near), min(upper.x_far, lower.x_far))
    return any(upper.height_at(x) <= lower.height_at(x) for x in ends)


def _tilts_into_beam(plates: Plates, half_beam: float) -> Iterator[Problem]:
    """Check each plate's tilt; without tilt both leave the beam free."""
    for name, side, tilt in (
        ("upper", 1, plates.tilt_upper),
        ("lower", -1, plates.tilt_lower),
    ):
        room = plates.gap / 2 + side * plates.height_offset - half_beam
        if plates.length / 2 * abs(math.sin(tilt)) >= room:
            most = math.asin(room / (plates.length / 2))
            yield Problem(
                f"plates.tilt_{name}",
                _deg(tilt),
                f"the {name} plate would stand in the beam: "
                f"choose between {_deg(-most)} and {_deg(most)}",
            )


def plates_at_anode(plates: Plates) -> Iterator[Problem]:
    """Check that the plates begin in front of the anode disc, clear of it."""
    if plates.start < ANODE_CLEARANCE:
        yield Problem(
            "plates.start",
            _mm(plates.start),
            "the plates must stay clear of the anode disc at 0 mm: "
            f"choose {_mm(ANODE_CLEARANCE)} or more",
        )


def beam_misses_sheet(gun: Gun, screen: Screen) -> Iterator[Problem]:
    """Check that a sheet cuts the flat beam somewhere along its length."""
    if not isinstance(screen, Sheet):
        return
    if screen.z_from == screen.z_to:
        yield Problem(
            "screen.z_to",
            _mm(screen.z_to),
            "the beam grazes the sheet only where it crosses it: "
            f"choose a value that differs from z_from, {_mm(screen.z_from)}",
        )
        return
    slope = (screen.z_to - screen.z_from) / (screen.x_to - screen.x_from)
    on_axis = screen.x_from - screen.z_from / slope
    # The gap between beam and sheet is least at an end of the sheet or where it crosses the axis.
    places = (screen.x_from, min(max(on_axis, screen.x_from), screen.x_to), screen.x_to)
    misses = [
        abs(screen.z_from + slope * (x - screen.x_from)) - _half_width(gun, x) for x in places
    ]
    if min(misses) > 0:
        reach = max(_half_width(gun, x) for x in places)
        yield Problem(
            "screen.z_from",
            f"{_mm(screen.z_from)} (with z_to {_mm(screen.z_to)})",
            f"the beam never reaches the sheet: it is at most {_mm(2 * reach)} wide, "
            f"so let z_from or z_to come within {_mm(reach)} of the axis",
        )


def _half_width(gun: Gun, x: float) -> float:
    """Give how far the beam reaches sideways at x, m."""
    return gun.aperture_width / 2 + max(x, 0.0) * math.tan(gun.divergence_sideways)


def screen_at_parts(plates: Plates | None, screen: Screen) -> Iterator[Problem]:
    """Check that the screen stands in front of the anode and clear of the plates."""
    nearest = screen.x if isinstance(screen, EndFace) else screen.x_from
    if isinstance(screen, GasGlow):
        if screen.x_to <= 0:
            yield Problem(
                "screen.x_to",
                _mm(screen.x_to),
                "the beam leaves the aperture at 0 mm towards +x: choose more than 0 mm",
            )
        return
    field = "screen.x" if isinstance(screen, EndFace) else "screen.x_from"
    if nearest <= 0.0:
        yield Problem(
            field,
            _mm(nearest),
            "the screen must stand in front of the anode disc: choose more than 0 mm",
        )
    if plates is None:
        return
    if isinstance(screen, Sheet):
        yield from _sheet_at_plates(plates, screen)
    elif screen.x <= plates.start + plates.length:
        yield Problem(
            field,
            _mm(screen.x),
            "the face must stand behind the plates: "
            f"choose more than {_mm(plates.start + plates.length)}",
        )


def _sheet_at_plates(plates: Plates, sheet: Sheet) -> Iterator[Problem]:
    """Check that a sheet fits between the plates where it runs through their gap."""
    room = math.inf
    for side, edge in zip((1, -1), plate_edges(plates), strict=True):
        start, end = max(edge.x_near, sheet.x_from), min(edge.x_far, sheet.x_to)
        if start < end:
            room = min(room, *(side * edge.height_at(x) for x in (start, end)))
    # Without room for the beam there is a worse problem, which is told elsewhere.
    if 0 < room <= sheet.height / 2:
        yield Problem(
            "screen.height",
            _mm(sheet.height),
            f"the sheet would touch a plate: choose less than {_mm(2 * room)}",
        )


def _mm(length: float) -> str:
    """Write a length in mm, exact where that is short."""
    return min(exact_text(length, "mm"), exact_text(_inward(length), "mm"), key=len)


def _deg(angle: float) -> str:
    """Write an angle in degrees, exact where that is short."""
    short = math.radians(_inward(math.degrees(angle)))
    return min(exact_text(angle, "rad"), exact_text(short, "rad"), key=len)


def _inward(limit: float) -> float:
    """Round a limit to four figures towards zero, so that what is told is allowed."""
    if limit == 0:
        return limit
    power = 10.0 ** (3 - math.floor(math.log10(abs(limit))))
    # The small addition keeps 25.5 from becoming 25.49 by the rounding of its last bit.
    return math.copysign(math.floor(abs(limit) * power + 1e-6) / power, limit)
