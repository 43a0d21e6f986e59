"""A drawing laid over the planes of a frame."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from glowtrace.compiled import compiled
from glowtrace.films.film_file import Plane, Planes

Pixels = NDArray[np.uint8]


def laid_over(planes: Planes, drawing: Pixels) -> Planes:
    """Give the planes of a frame with a drawing (rows, columns, 4), red to alpha, over them.

    Colours become those of ITU-R BT.709 in the video range.
    """
    y, u, v = (plane.copy() for plane in planes)
    _lay(y, u, v, np.ascontiguousarray(drawing))
    return y, u, v


@compiled()
def _lay(y: Plane, u: Plane, v: Plane, drawing: Pixels) -> None:
    rows, columns = u.shape
    for i in range(rows):
        for j in range(columns):
            blue = red = whole = 0.0
            for a in range(2):
                for b in range(2):
                    p, q = 2 * i + a, 2 * j + b
                    if drawing[p, q, 3] == 0:
                        continue
                    alpha = drawing[p, q, 3] / 255.0
                    r, g, c = drawing[p, q, 0], drawing[p, q, 1], drawing[p, q, 2]
                    luma = 0.2126 * r + 0.7152 * g + 0.0722 * c
                    y[p, q] = np.uint8(y[p, q] + alpha * (16.0 + 0.8588 * luma - y[p, q]) + 0.5)
                    blue += alpha * (128.0 + 0.8784 * (c - luma) / 1.8556)
                    red += alpha * (128.0 + 0.8784 * (r - luma) / 1.5748)
                    whole += alpha
            if whole > 0.0:
                part = whole / 4.0
                u[i, j] = np.uint8(u[i, j] * (1.0 - part) + blue / 4.0 + 0.5)
                v[i, j] = np.uint8(v[i, j] * (1.0 - part) + red / 4.0 + 0.5)
