"""Curvature by Gaussian derivatives, against a closed form."""

from __future__ import annotations

from math import cos, pi, sin

import numpy as np
import pytest

from glowtrace.photographs.curvature import curvature


@pytest.mark.parametrize("width", [1.3, 2.5])
def test_curvature_of_a_slanted_wave_is_that_of_the_smoothed_wave(width):
    # A Gaussian multiplies a wave of wave number k by exp(-(k width)^2 / 2).
    wave, turned = 2 * pi / 24, 0.6
    y, x = np.mgrid[:160, :160].astype(float)
    picture = np.cos(wave * (x * cos(turned) + y * sin(turned)))
    bend = curvature(picture, width)
    inside = np.s_[50:-50, 50:-50]
    smoothed = -(wave**2) * np.exp(-((wave * width) ** 2) / 2) * picture[inside]
    assert bend.along[inside] == pytest.approx(smoothed * cos(turned) ** 2, abs=1e-4)
    assert bend.down[inside] == pytest.approx(smoothed * sin(turned) ** 2, abs=1e-4)
    assert bend.mixed[inside] == pytest.approx(smoothed * sin(turned) * cos(turned), abs=1e-4)
    assert bend.high[inside] == pytest.approx(np.maximum(smoothed, 0.0), abs=1e-4)
    assert bend.low[inside] == pytest.approx(np.minimum(smoothed, 0.0), abs=1e-4)
