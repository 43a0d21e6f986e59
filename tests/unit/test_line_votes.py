"""Lines by votes and curvature by Gaussian derivatives, against closed forms."""

from __future__ import annotations

from math import cos, hypot, pi, sin

import numpy as np
import pytest

from glowtrace.photographs.curvature import curvature
from glowtrace.photographs.line_votes import line_votes, peaks


def test_a_drawn_line_gets_the_votes_of_its_pixels():
    # x cos(angle) + y sin(angle) = distance, Duda and Hart 1972
    y, x = np.mgrid[:120, :200]
    angle, distance = 0.3, 70.0
    pixels = np.abs(x * cos(angle) + y * sin(angle) - distance) < 0.5
    angles = np.linspace(-0.6, 0.6, 121)
    votes, distances = line_votes(pixels, angles)
    assert votes.sum() == pixels.sum() * len(angles)
    ((row, column),) = peaks(votes, (6, 12), 0.9 * votes.max(), 5)
    assert votes[row, column] == pixels.sum()
    assert distances[row] == distance
    assert angles[column] == pytest.approx(angle, abs=1e-9)
    assert max(abs(distances)) >= hypot(*pixels.shape)


def test_peaks_are_apart_the_highest_first_and_a_plateau_is_one():
    votes = np.zeros((60, 60))
    votes[10, 10], votes[14, 14], votes[10, 30], votes[40, 40:43] = 9.0, 8.0, 5.0, 7.0
    assert peaks(votes, (6, 12), 1.0, 9) == [(10, 10), (40, 41), (10, 30)]
    assert peaks(votes, (6, 12), 6.0, 9) == [(10, 10), (40, 41)]
    assert peaks(votes, (6, 12), 1.0, 1) == [(10, 10)]
    assert peaks(np.zeros((9, 9)), (1, 1), 0.0, 3) == []


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
