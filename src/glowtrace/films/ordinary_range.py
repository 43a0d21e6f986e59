"""Films of high dynamic range as ordinary ones.

Such a film (ITU-R BT.2100) tells light by one of two curves, in the wide colours of ITU-R BT.2020.
Light becomes ordinary with the white of a sheet of paper, 203 cd/m2 (ITU-R BT.2408), at three
quarters of full light; what is brighter is pressed into the rest, so that the glow keeps its core.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.compiled import compiled

Array = NDArray[np.float64]
Plane = NDArray[np.uint8]

HIGH_RANGES: Final[Mapping[int, str]] = {16: "PQ", 18: "HLG"}
"""Curves by their numbers in ISO/IEC 23091-2."""
PAPER: Final = 203.0
"""cd/m2 of a white sheet (ITU-R BT.2408)."""
_BRIGHTEST: Final = 1000.0
"""cd/m2 that becomes full light."""
_PAPER_AT: Final = 0.75
_TO_709: Final = np.array(
    [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]]
)
"""From the colours of BT.2020 to those of BT.709 (ITU-R BT.2087)."""
_STEPS: Final = 4096


def pq_luminance(signal: Array) -> Array:
    """Luminance in cd/m2 of a PQ signal, 0 to 1 (ITU-R BT.2100, table 4)."""
    m1, m2 = 2610 / 16384, 2523 / 4096 * 128
    c1, c2, c3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
    root = np.asarray(signal) ** (1 / m2)
    light: Array = 1e4 * (np.maximum(root - c1, 0.0) / (c2 - c3 * root)) ** (1 / m1)
    return light


def hlg_luminance(signal: Array) -> Array:
    """Luminance in cd/m2 of a grey HLG signal, 0 to 1, on a screen of 1000 cd/m2 (table 5)."""
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    x = np.asarray(signal)
    scene = np.where(x <= 0.5, x * x / 3, (np.exp((np.maximum(x, 0.5) - c) / a) + b) / 12)
    light: Array = 1000.0 * scene**1.2
    return light


def ordinary_light(luminance: Array) -> Array:
    """Light, 0 to 1, that stands for luminances in cd/m2 in an ordinary film."""
    relative = np.asarray(luminance) / PAPER
    most = _BRIGHTEST / PAPER
    rest = 1.0 - _PAPER_AT
    over = np.clip(relative, 1.0, most) - 1.0
    # Begins with the slope that it goes on with, and ends at full light.
    slope = _PAPER_AT / rest
    bend = (slope * (most - 1.0) - 1.0) / (most - 1.0)
    light: Array = _PAPER_AT * np.minimum(relative, 1.0) + rest * slope * over / (1 + bend * over)
    return light


def ordinary_planes(planes: Sequence[NDArray[np.uint16]], curve: str) -> tuple[Plane, Plane, Plane]:
    """Give the planes of an ordinary frame for those of ten bits, 4:2:0 and video range."""
    y, u, v = (np.ascontiguousarray(plane) for plane in planes)
    rows, columns = 2 * (y.shape[0] // 2), 2 * (y.shape[1] // 2)
    half = rows // 2, columns // 2
    out = (np.empty((rows, columns), np.uint8), np.empty(half, np.uint8), np.empty(half, np.uint8))
    _convert(y, u, v, _light_of(curve), _stored(), _TO_709, *out)
    return out


@cache
def _light_of(curve: str) -> Array:
    """Ordinary light for signals in `_STEPS` steps."""
    signal = np.linspace(0.0, 1.0, _STEPS)
    return ordinary_light(pq_luminance(signal) if curve == "PQ" else hlg_luminance(signal))


@cache
def _stored() -> Array:
    """Stored value (ITU-R BT.709, with the exponent of its screens) for light in steps."""
    return np.asarray(np.linspace(0.0, 1.0, _STEPS) ** (1 / 2.4))


@compiled()
def _convert(
    y: Any,
    u: Any,
    v: Any,
    light: Array,
    stored: Array,
    colours: Array,
    luma: Plane,
    blue: Plane,
    red: Plane,
) -> None:
    top = len(light) - 1
    rgb, ordinary = np.empty(3), np.empty(3)
    for i in range(blue.shape[0]):
        for j in range(blue.shape[1]):
            cb, cr = (u[i, j] - 512.0) / 896.0, (v[i, j] - 512.0) / 896.0
            sum_b = sum_r = 0.0
            for a in range(2):
                for b in range(2):
                    grey = (y[2 * i + a, 2 * j + b] - 64.0) / 876.0
                    # ITU-R BT.2020, luma of constants 0.2627, 0.6780, 0.0593.
                    rgb[0] = grey + 1.4746 * cr
                    rgb[1] = grey - 0.16455 * cb - 0.57135 * cr
                    rgb[2] = grey + 1.8814 * cb
                    for n in range(3):
                        rgb[n] = light[int(min(max(rgb[n], 0.0), 1.0) * top)]
                    for n in range(3):
                        wide = colours[n, 0] * rgb[0] + colours[n, 1] * rgb[1]
                        wide = wide + colours[n, 2] * rgb[2]
                        ordinary[n] = stored[int(min(max(wide, 0.0), 1.0) * top)]
                    own = 0.2126 * ordinary[0] + 0.7152 * ordinary[1] + 0.0722 * ordinary[2]
                    luma[2 * i + a, 2 * j + b] = np.uint8(16.5 + 219.0 * own)
                    sum_b += (ordinary[2] - own) / 1.8556
                    sum_r += (ordinary[0] - own) / 1.5748
            blue[i, j] = np.uint8(128.5 + 56.0 * sum_b)
            red[i, j] = np.uint8(128.5 + 56.0 * sum_r)
