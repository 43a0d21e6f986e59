"""From light on the screen to the shade and the colour in which it is shown."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import LinearSegmentedColormap, to_rgb
from numpy.typing import NDArray

from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.report.look import Look

_FULL_LIGHT = 0.995  # this share of the lit pixels is below full light
_EYE = 0.45  # exponent from light to shade: faint light stays visible beside bright light
_SEEN = 8.0  # how fast the grid behind the light fades: shade times this is its cover


def full_light(light: NDArray[np.float64]) -> float:
    """Give the light (per pixel, in the image's unit) that is shown as full; 0 where all is dark.

    A few of the brightest pixels are above it, so that they do not dim all others.
    """
    lit = light[light > 0]
    return float(np.quantile(lit, _FULL_LIGHT)) if lit.size else 0.0


def shade(light: NDArray[np.float64], full: float | None = None) -> NDArray[np.float64]:
    """Give the light of each pixel as a shade from 0 (none) to 1 (full), as an eye grades it.

    Parameters
    ----------
    light
        Of each pixel, any shape.
    full
        What is shown as full, for several pictures to be compared; of this picture when left out.
    """
    full = full_light(light) if full is None else full
    if full <= 0.0:
        return np.zeros_like(light)
    return np.clip(light / full, 0.0, 1.0) ** _EYE


def glow_colours(look: Look, plane: ScreenPlane) -> LinearSegmentedColormap:
    """Give the colours of the glow by shade; where there is no light the grid shows through.

    Parameters
    ----------
    look
        For the dark room or for paper.
    plane
        What the light is seen on: gas has colours of its own.
    """
    colours = look.gas if plane.glows else look.phosphor
    shades = np.linspace(0.0, 1.0, len(colours))
    seen = [(s, (*to_rgb(c), min(1.0, _SEEN * s))) for s, c in zip(shades, colours, strict=True)]
    return LinearSegmentedColormap.from_list(look.name, seen)
