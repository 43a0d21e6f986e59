"""How bright the middle of the trace is, for each electron that leaves the gun."""

from __future__ import annotations

import math

import numpy as np

from glowtrace.bench.picture import Picture

_ROWS_BESIDE = 5
"""Rows of a trace on either side that are taken together: one row holds too few electrons."""


def middle_brightness(picture: Picture, at: float) -> float:
    """Give the light in the middle of the trace, for one electron; NaN where there is none.

    In J/m² on phosphor, and in gas in metres of path for each m² of the picture. Across the trace
    the light is taken to fall off as a normal curve; a phosphor's own grain and its efficiency are
    not in it (see `glowtrace.light`).

    Parameters
    ----------
    picture
        With its landings.
    at
        Where along the beam, m; of no account on an end face.
    """
    trace, plane = picture.mean_trace, picture.plane
    light = float(picture.image.sum())
    if plane.is_spot:
        area = 2.0 * math.pi * _spread(picture, 0) * _spread(picture, 1) if light else 0.0
        return light / picture.electrons / area if area else math.nan
    u = plane.u_of(at)
    if trace.at(u) is None:
        return math.nan
    nearest = int(np.argmin(np.abs(trace.u - u)))
    rows = slice(max(0, nearest - _ROWS_BESIDE), nearest + 1 + _ROWS_BESIDE)
    share = trace.weight[rows] / picture.electrons
    across = math.sqrt(2.0 * math.pi) * float(np.average(trace.width_v[rows], weights=share))
    if across == 0.0:
        return math.nan
    if plane.glows:
        return float(share.mean()) / across
    along = float(np.abs(np.gradient(trace.u)[rows]).sum()) if len(trace.u) > 1 else 0.0
    energy = light / picture.ends["screen"]  # of one electron that lands
    return energy * float(share.sum()) / (along * across) if along else math.nan


def _spread(picture: Picture, axis: int) -> float:
    """Give the standard deviation in m of the light across (1) or up (0) the picture."""
    light = picture.image.sum(axis=1 - axis)
    u0, u1, v0, v1 = picture.extent
    pixel = (v1 - v0, u1 - u0)[axis] / len(light)
    places = pixel * np.arange(len(light))
    middle = np.average(places, weights=light)
    # A pixel is a place known to its width alone: the variance of that comes off.
    variance = np.average((places - middle) ** 2, weights=light) - pixel**2 / 12.0
    return math.sqrt(max(float(variance), pixel**2 / 12.0))
