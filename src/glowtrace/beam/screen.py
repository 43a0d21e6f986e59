"""Where light appears: a picture plane, and the image that electrons add up to on it.

A phosphor screen lights where an electron lands, in proportion to its energy. Gas lights along the
whole path, in proportion to its length. Each contribution is spread over three by three pixels by
quadratic B-splines, which keeps the sum exact and the image free of moire.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.obstacles import place_on
from glowtrace.compiled import compiled

Array = NDArray[np.float64]
Vector = tuple[float, float, float]


class Canvas(NamedTuple):
    """The picture plane in the form that the compiled kernels read."""

    glows: bool
    """Whether light comes from along the path (gas) and not from the landing (phosphor)."""
    origin: Vector
    """The point (3,) in m at which u = v = 0."""
    along_u: Vector
    """Unit vector (3,) of the picture's horizontal direction."""
    along_v: Vector
    """Unit vector (3,) of the picture's vertical direction."""
    lowest: tuple[float, float]
    """Lowest (u, v) of the picture in m."""
    pixel: float
    """Edge length of a pixel in m."""


@compiled()
def picture_point(plane: Canvas, x: float, y: float, z: float) -> tuple[float, float]:
    """Give the (u, v) in m of a point in space."""
    x, y, z = x - plane.origin[0], y - plane.origin[1], z - plane.origin[2]
    return (
        x * plane.along_u[0] + y * plane.along_u[1] + z * plane.along_u[2],
        x * plane.along_v[0] + y * plane.along_v[1] + z * plane.along_v[2],
    )


@compiled()
def deposit(plane: Canvas, image: Array, u: float, v: float, light: float) -> None:
    """Add light at (u, v) to the image (rows upwards in v); what falls outside it is dropped."""
    column = (u - plane.lowest[0]) / plane.pixel
    row = (v - plane.lowest[1]) / plane.pixel
    i, j = math.floor(column), math.floor(row)
    if i < 1 or j < 1 or i >= image.shape[1] - 1 or j >= image.shape[0] - 1:
        return
    f, g = column - i - 0.5, row - j - 0.5
    weights_u = (0.5 * (0.5 - f) ** 2, 0.75 - f * f, 0.5 * (0.5 + f) ** 2)
    weights_v = (0.5 * (0.5 - g) ** 2, 0.75 - g * g, 0.5 * (0.5 + g) ** 2)
    for m in range(3):
        for n in range(3):
            image[j - 1 + m, i - 1 + n] += light * weights_v[m] * weights_u[n]


@compiled()
def deposit_along(plane: Canvas, image: Array, path: Array, part: float, length: float) -> None:
    """Add light along the first ``part`` of a step, ``length`` metres of it, in small portions.

    A portion is at most one and a half pixels long; its three by three pixels bridge that.
    """
    count = int(length / (1.5 * plane.pixel)) + 1
    for n in range(count):
        x, y, z = place_on(path, part * (n + 0.5) / count)
        u, v = picture_point(plane, x, y, z)
        deposit(plane, image, u, v, length / count)
