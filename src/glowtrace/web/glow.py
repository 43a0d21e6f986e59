"""A picture as a compact message: points in 16-bit steps of a box, as base64 text."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.picture import Picture

FULL_SCALE = 32767
PEN_UP = -32768
"""Written for both numbers of a place where a line is interrupted."""


@dataclass(frozen=True)
class Box:
    """A rectangle on the screen, in m; the 16-bit numbers reach from edge to edge."""

    u_low: float
    u_high: float
    v_low: float
    v_high: float

    def grown(self, share: float) -> Box:
        """Give the box with `share` of its size added on every side."""
        du = share * (self.u_high - self.u_low)
        dv = share * (self.v_high - self.v_low)
        return Box(self.u_low - du, self.u_high + du, self.v_low - dv, self.v_high + dv)

    @property
    def millimetres(self) -> tuple[float, float, float, float]:
        """The edges u_low, u_high, v_low, v_high in mm."""
        return 1e3 * self.u_low, 1e3 * self.u_high, 1e3 * self.v_low, 1e3 * self.v_high


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
    low = np.array([box.u_low, box.v_low])
    high = np.array([box.u_high, box.v_high])
    share = (np.asarray(points, dtype=np.float64).reshape(-1, 2) - low) / (high - low)
    inside = ((share >= 0.0) & (share <= 1.0)).all(axis=1)  # False for NaN
    steps = np.rint((2.0 * np.where(inside[:, None], share, 0.0) - 1.0) * FULL_SCALE)
    numbers = np.where(inside[:, None], steps, PEN_UP).astype("<i2")
    return b64encode(numbers.tobytes()).decode("ascii")


def glow_message(
    picture: Picture, textbook: NDArray[np.float64], box: Box, number: int
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
    """
    wide = box.grown(0.5)
    is_gas = picture.view == "gas glow"
    points = _flown(picture.paths) if is_gas else picture.landings
    emitted = len(picture.paths) if is_gas else picture.electrons
    return {
        "number": number,
        "kind": "lines" if is_gas else "dots",
        "pairs": encode_points(points, wide),
        "points": points.shape[1] if is_gas else 1,
        "weight": 1.0 / max(1, emitted),
        "textbook": encode_points(textbook, wide),
        "box_mm": wide.millimetres,
    }


def _flown(paths: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give x and y (n, k, 2) of paths, without the places that no electron comes to any more."""
    longest = int(np.isfinite(paths[:, :, 0]).sum(axis=1).max(initial=0))
    return paths[:, :longest, :2]
