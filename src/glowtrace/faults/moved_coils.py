"""Coils out of place: turned and shifted, but never into the glass."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.known_fields import Winding
from glowtrace.faults.condition import Displacement

Array = NDArray[np.float64]

_TRIES, _SHRINK = 12, 0.7
"""How often a displacement that would put a coil into the glass is made smaller, and by what."""


def moved_clear(
    windings: tuple[Winding, ...], by: Displacement, points: Array
) -> tuple[Winding, ...]:
    """Give the coils out of place as thin sheets, moved no further than some points let them.

    Leaving out the depth of the section changes the field by (depth / radius)^2 / 24.

    Parameters
    ----------
    windings, by
        The coils in place, and by how much they are moved at most.
    points
        (g, 3) in m inside the glass, where no winding can be.
    """
    for _ in range(_TRIES):
        moved = displaced(windings, by)
        if not any(stands_in(winding, points) for winding in moved):
            break
        by = by.shrunk(_SHRINK)
    return tuple(replace(winding, radial_depth=0.0) for winding in moved)


def displaced(windings: tuple[Winding, ...], by: Displacement) -> tuple[Winding, ...]:
    """Give windings turned about their common middle and shifted."""
    if not windings:
        return ()
    middle = np.mean([winding.centre for winding in windings], axis=0)
    cx, sx, cy, sy = (
        math.cos(by.tilt_x),
        math.sin(by.tilt_x),
        math.cos(by.tilt_y),
        math.sin(by.tilt_y),
    )
    about_x = np.array([[1.0, 0.0, 0.0], [0.0, cx, -sx], [0.0, sx, cx]])
    about_y = np.array([[cy, 0.0, sy], [0.0, 1.0, 0.0], [-sy, 0.0, cy]])
    turn = about_y @ about_x
    return tuple(
        replace(
            winding,
            centre=_vector(turn @ (np.array(winding.centre) - middle) + middle + by.shift),
            axis=_vector(turn @ np.array(winding.axis)),
        )
        for winding in windings
    )


def stands_in(winding: Winding, points: Array) -> bool:
    """Say whether any of the points (g, 3) lies in a winding's section."""
    axis = np.array(winding.axis)
    offsets = points - np.array(winding.centre)
    along = offsets @ axis
    rho = np.linalg.norm(offsets - along[:, None] * axis, axis=1)
    beside = np.abs(rho - winding.mean_radius) <= winding.radial_depth / 2
    return bool((beside & (np.abs(along) <= winding.axial_length / 2)).any())


def _vector(values: Array) -> tuple[float, float, float]:
    x, y, z = values.tolist()
    return x, y, z
