"""Straight lines in a picture by the votes of its pixels (Hough).

A line is the set of points with x cos(angle) + y sin(angle) = distance. Each pixel votes, at every
angle, for the line through it; lines are where many votes meet.

References
----------
R. O. Duda, P. E. Hart, "Use of the Hough transformation to detect lines and curves in pictures",
Commun. ACM 15 (1972) 11-15.
"""

from __future__ import annotations

from math import ceil, hypot

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Array = NDArray[np.float64]


def line_votes(pixels: NDArray[np.bool_], angles: Array) -> tuple[Array, Array]:
    """Count the pixels on each line.

    Parameters
    ----------
    pixels
        (rows, columns) which of them vote; x counts the columns, y the rows.
    angles
        (a,) of the line's normal against x, in rad.

    Returns
    -------
    votes
        (d, a) of each line.
    distances
        (d,) of the lines from the origin, in whole pixels.
    """
    farthest = ceil(hypot(*pixels.shape))
    y, x = np.nonzero(pixels)
    votes = np.empty((2 * farthest + 1, len(angles)))
    for column, angle in enumerate(angles):
        rows = np.rint(x * np.cos(angle) + y * np.sin(angle)).astype(np.intp) + farthest
        votes[:, column] = np.bincount(rows, minlength=len(votes))
    return votes, np.arange(-farthest, farthest + 1, dtype=float)


def peaks(votes: Array, apart: tuple[int, int], least: float, most: int) -> list[tuple[int, int]]:
    """Find where votes are highest.

    Parameters
    ----------
    votes
        (rows, columns), none below zero.
    apart
        Rows and columns around a peak in which there is no other.
    least
        What a peak must exceed.
    most
        How many are given.

    Returns
    -------
    list
        Row and column of each peak, the highest first; a plateau counts as one, in its middle.
    """
    rows_apart, columns_apart = apart
    around = (2 * rows_apart + 1, 2 * columns_apart + 1)
    highest = ndimage.maximum_filter(votes, size=around, mode="constant")
    plateaus, count = ndimage.label((votes == highest) & (votes > least), np.ones((3, 3)))
    numbers = np.arange(1, count + 1)
    middles = np.rint(ndimage.center_of_mass(plateaus > 0, plateaus, numbers)).astype(int)
    heights = ndimage.maximum(votes, plateaus, numbers)
    found: list[tuple[int, int]] = []
    for index in np.argsort(-np.asarray(heights), kind="stable"):
        row, column = map(int, middles[index])
        if all(abs(row - r) > rows_apart or abs(column - c) > columns_apart for r, c in found):
            found.append((row, column))
    return found[:most]
