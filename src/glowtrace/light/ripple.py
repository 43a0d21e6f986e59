"""How much the trace itself flickers: the supply's ripple, damped by the phosphor's afterglow."""

from __future__ import annotations

import math

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import middle_density
from glowtrace.light.glow import Glow, scaled
from glowtrace.light.luminance import trace_luminance
from glowtrace.light.scene import Scene

_STEP = 1e-3


def trace_flicker(
    bench: Bench, settings: Settings, scene: Scene, glow: Glow, shutter: float = 0.0
) -> float:
    """Give the share by which the trace's brightness swings, peak from the mean.

    A ripple r from peak to peak of the accelerating voltage swings the luminance by r/2 times
    d ln L / d ln V. An afterglow of time constant tau damps a swing of frequency f by
    1 / sqrt(1 + (2 pi f tau)^2), a shutter time t by |sin(pi f t) / (pi f t)|.

    Parameters
    ----------
    bench, settings, scene, glow
        The trace in its scene.
    shutter
        Exposure time in s; 0 for the eye.
    """
    supply = bench.supplies.accelerating
    if glow.is_dark or not settings.ripple or supply.ripple == 0.0:
        return 0.0
    density = middle_density(glow)
    bright, brighter = (
        float(trace_luminance(bench, scene, each, density)[0])
        for each in (glow, scaled(glow, 1.0 + _STEP))
    )
    if bright == 0.0:
        return 0.0
    steepness = abs(math.log(brighter / bright)) / math.log1p(_STEP)
    frequency = supply.ripple_frequency
    decay = 0.0 if glow.is_gas else scene.phosphor.decay
    damped = 1.0 / math.hypot(1.0, 2.0 * math.pi * frequency * decay)
    return supply.ripple / 2.0 * steepness * damped * abs(float(np.sinc(frequency * shutter)))
