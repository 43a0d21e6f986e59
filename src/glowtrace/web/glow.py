"""A picture as a compact message: points in 16-bit steps of a box, as base64 text."""

from __future__ import annotations

from base64 import b64encode
from typing import Any

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.picture import Picture
from glowtrace.light.rendering import RoomLook
from glowtrace.web.surface import Box

FULL_SCALE = 32767
NOWHERE: NDArray[np.float64] = np.empty((0, 2))
PEN_UP = -32768
"""Written for both numbers of a place where a line is interrupted."""


def encode_points(points: NDArray[np.float64], box: Box) -> str:
    """Give places on the screen as little-endian 16-bit pairs in base64.

    Parameters
    ----------
    points
        Places (u, v) in m, shape (..., 2). A place that is not finite or lies outside the box is
        written as `PEN_UP`.
    box
        What the numbers are relative to; a step is 1/65534 of its width and height.
    """
    flat = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    inside = box.holds(flat)[:, None]
    low = np.array([box.u_low, box.v_low])
    high = np.array([box.u_high, box.v_high])
    share = np.where(inside, (flat - low) / (high - low), 0.0)
    steps = np.rint((2.0 * share - 1.0) * FULL_SCALE)
    numbers = np.where(inside, steps, PEN_UP).astype("<i2")
    return b64encode(numbers.tobytes()).decode("ascii")


def glow_message(
    picture: Picture,
    textbook: NDArray[np.float64],
    box: Box,
    number: int,
    band: NDArray[np.float64] = NOWHERE,
    held: NDArray[np.float64] = NOWHERE,
) -> dict[str, Any]:
    """Give what the gridded screen needs to draw a picture.

    Parameters
    ----------
    picture
        The picture. Gas glow needs `picture.paths`; other screens use `picture.landings`.
    textbook
        The textbook trace (k, 2) on the screen in m; no rows where there is none.
    box
        The screen's extent.
    number
        What the page sends back once the picture is drawn.
    band
        Around where the line may lie (k, 2) on the screen in m; left out where nobody knows.
    held
        The line (k, 2) that is kept to compare with, likewise.
    """
    wide = box.grown(0.5)
    is_gas = picture.plane.glows
    points = _flown(picture.paths) if is_gas else picture.landings
    emitted = len(picture.paths) if is_gas else picture.electrons
    return {
        "number": number,
        "kind": "lines" if is_gas else "dots",
        "pairs": encode_points(points, wide),
        "points": points.shape[1] if is_gas else 1,
        "weight": 1.0 / max(1, emitted),
        "textbook": encode_points(textbook, wide),
        "band": encode_points(band, wide),
        "held": encode_points(held, wide),
        "box_mm": wide.millimetres,
    }


def room_message(look: RoomLook, unit: float) -> dict[str, Any]:
    """Give what the gridded screen needs to draw a picture as in a room.

    Parameters
    ----------
    look
        The look of the trace there.
    unit
        One unit of the page's light in SI, see `light_unit`.
    """
    ground = " ".join(f"{255.0 * part:.0f}" for part in look.ground)
    return {"ground": f"rgb({ground})", "share": look.share, "half_light": look.half / unit}


def _flown(paths: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give x and y (n, k, 2) of paths, without the places that no electron comes to any more."""
    longest = int(np.isfinite(paths[:, :, 0]).sum(axis=1).max(initial=0))
    return paths[:, :longest, :2]
