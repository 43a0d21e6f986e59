"""Whether the parts fit inside the glass and the coils stay outside it.

A winding is a ring of rectangular section about an axis; lengths in m.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.geometry import plate_edges
from glowtrace.bench.parts import (
    CoilPair,
    Coils,
    EndFace,
    Envelope,
    GasGlow,
    Gun,
    Plates,
    Screen,
    Sheet,
    Sphere,
)
from glowtrace.errors import Problem
from glowtrace.units import exact_text, format_quantity

Points = NDArray[np.float64]

_ROUNDING: Final = 1e-9
"""Lengths below this are rounding, m: a face may stand exactly at the end of its tube."""
_CIRCLE: Final = np.linspace(0.0, 2 * np.pi, 180, endpoint=False)
"""Angles at which rings are looked at; the arc between two of them bulges by 4e-5 of the radius."""


@dataclass(frozen=True)
class Ring:
    """One winding: its middle and axis (3,), radii and half length, m."""

    centre: Points
    axis: Points
    inner: float
    outer: float
    half_length: float


def depth_inside(envelope: Envelope, points: Points) -> Points:
    """Give how deep points lie inside the glass; negative outside.

    Parameters
    ----------
    envelope
        The glass.
    points : (n, 3)
        Points, m.

    Returns
    -------
    (n,) array
        Distance to the glass, m (inside a sphere or cylinder; outside a cylinder's corner it is
        shorter than the distance).
    """
    if isinstance(envelope, Sphere):
        x, y, z = (points - np.array(envelope.centre)).T
        return np.asarray(envelope.radius - np.sqrt(x**2 + y**2 + z**2))
    x, y, z = points.T
    to_ends = np.minimum(x - envelope.x_from, envelope.x_to - x)
    return np.asarray(np.minimum(envelope.radius - np.hypot(y, z), to_ends))


def parts_outside_glass(
    envelope: Envelope, gun: Gun | None, plates: Plates | None, screen: Screen | None
) -> Iterator[Problem]:
    """Check that anode disc, plates and screen are inside the glass."""
    if gun:
        rim = np.stack(
            [
                np.zeros_like(_CIRCLE),
                gun.anode_radius * np.cos(_CIRCLE),
                gun.anode_radius * np.sin(_CIRCLE),
            ],
            axis=1,
        )
        given = exact_text(gun.anode_radius, "mm")
        yield from _outside("gun.anode_radius", given, "the anode disc", envelope, rim)
    if plates:
        given = (
            f"a length of {exact_text(plates.length, 'mm')}, width of "
            f"{exact_text(plates.width, 'mm')} and gap of {exact_text(plates.gap, 'mm')}"
        )
        yield from _outside("plates", given, "a plate", envelope, _plate_corners(plates))
    if isinstance(screen, GasGlow):
        yield from _glow_outside(envelope, screen)
    elif isinstance(screen, EndFace):
        yield from _face_outside(envelope, screen)
    elif isinstance(screen, Sheet):
        for end, x, z in (
            ("x_from", screen.x_from, screen.z_from),
            ("x_to", screen.x_to, screen.z_to),
        ):
            corners = np.array([[x, side * screen.height / 2, z] for side in (-1, 1)])
            given = f"{exact_text(x, 'mm')} (with a height of {exact_text(screen.height, 'mm')})"
            yield from _outside(f"screen.{end}", given, "the sheet", envelope, corners)


def _outside(
    field: str, given: str, what: str, envelope: Envelope, points: Points
) -> Iterator[Problem]:
    """Check points of a part against the glass."""
    out = -float(depth_inside(envelope, points).min())
    if out > _ROUNDING:
        yield Problem(
            field,
            given,
            f"{what} must be inside the glass and reaches {format_quantity(out, 'mm')} out of it",
        )


def _plate_corners(plates: Plates) -> Points:
    corners = [
        (x, y, side * plates.width / 2)
        for edge in plate_edges(plates)
        for x, y in ((edge.x_near, edge.y_near), (edge.x_far, edge.y_far))
        for side in (-1, 1)
    ]
    return np.array(corners)


def _face_outside(envelope: Envelope, face: EndFace) -> Iterator[Problem]:
    """Check an end face: first where it stands, then how large it is."""
    centre = np.array([[face.x, 0.0, 0.0]])
    misplaced = list(
        _outside("screen.x", exact_text(face.x, "mm"), "the end face", envelope, centre)
    )
    yield from misplaced
    if not misplaced:
        half = (face.height / 2, face.width / 2)
        corners = np.array([[face.x, up * half[0], side * half[1]] for up, side in _SIDES])
        given = f"{exact_text(face.height, 'mm')} (with a width of {exact_text(face.width, 'mm')})"
        yield from _outside("screen.height", given, "the end face", envelope, corners)


_SIDES: Final = tuple(itertools.product((-1, 1), repeat=2))


def _glow_outside(envelope: Envelope, glow: GasGlow) -> Iterator[Problem]:
    """Check that the picture of the gas shows some of the inside of the tube."""
    if isinstance(envelope, Sphere):
        x, y, _ = envelope.centre
    else:
        x, y = (envelope.x_from + envelope.x_to) / 2, 0.0
    nearest = (min(max(x, glow.x_from), glow.x_to), min(max(y, glow.y_from), glow.y_to))
    if float(depth_inside(envelope, np.array([[*nearest, 0.0]])).min()) <= 0:
        yield Problem(
            "screen.x_from",
            f"{exact_text(glow.x_from, 'mm')} (x_to {exact_text(glow.x_to, 'mm')}, y_from "
            f"{exact_text(glow.y_from, 'mm')}, y_to {exact_text(glow.y_to, 'mm')})",
            "the picture must show some of the inside of the glass",
        )


def winding_too_large(coils: Coils) -> Iterator[Problem]:
    """Check that a winding leaves its middle open, and that the two of a pair stay apart."""
    if coils.winding_depth >= 2 * coils.mean_radius:
        yield Problem(
            "coils.winding_depth",
            exact_text(coils.winding_depth, "mm"),
            "the winding would fill its own middle: "
            f"choose less than twice mean_radius, {exact_text(2 * coils.mean_radius, 'mm')}",
        )
    if isinstance(coils, CoilPair) and coils.winding_width > coils.spacing:
        yield Problem(
            "coils.winding_width",
            exact_text(coils.winding_width, "mm"),
            f"the two coils would overlap: choose at most spacing, "
            f"{exact_text(coils.spacing, 'mm')}",
        )


def coil_rings(coils: Coils) -> tuple[Ring, ...]:
    """Give the windings as rings: two for a pair, one for a long coil."""
    inner = coils.mean_radius - coils.winding_depth / 2
    outer = coils.mean_radius + coils.winding_depth / 2
    if isinstance(coils, CoilPair):
        axis = pair_axis(coils)
        centre = np.array(coils.centre)
        half = coils.winding_width / 2
        return tuple(
            Ring(centre + side * coils.spacing / 2 * axis, axis, inner, outer, half)
            for side in (-1, 1)
        )
    middle = np.array([(coils.x_from + coils.x_to) / 2, coils.shift_y, coils.shift_z])
    half = (coils.x_to - coils.x_from) / 2
    return (Ring(middle, np.array([1.0, 0.0, 0.0]), inner, outer, half),)


def pair_axis(pair: CoilPair) -> Points:
    """Give the unit vector (3,) of a pair's axis: +z turned about x, then about y."""
    sin_x, cos_x = math.sin(pair.tilt_x), math.cos(pair.tilt_x)
    sin_y, cos_y = math.sin(pair.tilt_y), math.cos(pair.tilt_y)
    return np.array([cos_x * sin_y, -sin_x, cos_x * cos_y])


def coils_at_glass(envelope: Envelope, coils: Coils) -> Iterator[Problem]:
    """Check that the windings stay outside the glass."""
    deepest = max(_reach_into(envelope, ring) for ring in coil_rings(coils))
    if deepest > _ROUNDING:
        yield Problem(
            "coils.mean_radius",
            exact_text(coils.mean_radius, "mm"),
            "the winding must stay outside the glass and reaches "
            f"{format_quantity(deepest, 'mm')} into it",
        )


def _reach_into(envelope: Envelope, ring: Ring) -> float:
    """Give how deep a winding reaches into the glass, m; negative when it stays outside."""
    if isinstance(envelope, Sphere):
        to_sphere = np.array(envelope.centre) - ring.centre
        along = float(to_sphere @ ring.axis)
        across = math.sqrt(max(float(to_sphere @ to_sphere) - along**2, 0.0))
        # The nearest point of the ring lies at the same azimuth, in the rectangle of its section.
        axial = max(abs(along) - ring.half_length, 0.0)
        radial = max(ring.inner - across, across - ring.outer, 0.0)
        return envelope.radius - math.hypot(axial, radial)
    return float(depth_inside(envelope, _ring_points(ring)).max())


def _ring_points(ring: Ring) -> Points:
    """Give points (n, 3) all over a winding."""
    aside = np.cross(ring.axis, [0.0, 1.0, 0.0] if abs(ring.axis[1]) < 0.9 else [1.0, 0.0, 0.0])
    first = aside / np.linalg.norm(aside)
    second = np.cross(ring.axis, first)
    radius, along, angle = (
        grid.ravel()
        for grid in np.meshgrid(
            np.linspace(ring.inner, ring.outer, 3),
            np.linspace(-ring.half_length, ring.half_length, 33),
            _CIRCLE,
        )
    )
    local = np.stack([along, radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    return np.asarray(ring.centre + local @ np.stack([ring.axis, first, second]))
