"""The light of one frame of a clip."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from glowtrace.bench.picture import Model, Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings

Array = NDArray[np.float64]

_ELECTRONS: Final = {"line": 4000, "spot": 3000, "path": 500}
"""For one frame, by kind of screen: each of them draws a whole line in gas, a dot elsewhere."""
_GRAIN: Final = 0.0002
"""m (1 sigma) by which the phosphor's grain spreads the light of one landing."""


def shown_extent(prepared: PreparedBench) -> tuple[float, float, float, float]:
    """Give the extent (u0, u1, v0, v1) in m that pictures of a bench have."""
    plane = prepared.plane
    u0, v0, _, _ = plane.rectangle
    rows, columns = plane.image_shape
    return u0, u0 + columns * plane.pixel, v0, v0 + rows * plane.pixel


def grained_picture(
    prepared: PreparedBench, settings: Settings, model: Model
) -> tuple[Picture, Array]:
    """Give a picture, and its light (v, u) as the phosphor's grain spreads it."""
    picture = prepared.picture(settings, electrons=_ELECTRONS[prepared.plane.shows], model=model)
    return picture, np.asarray(gaussian_filter(picture.image, _GRAIN / prepared.plane.pixel))
