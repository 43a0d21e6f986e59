"""The eye's threshold against contrast thresholds and laws of other sources."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.light.eye import line_angle, threshold

MINUTE = math.radians(1.0 / 60.0)
LARGE = math.radians(10.0)


def contrast(background: float, angle: float) -> float:
    return float(threshold(background, angle)) / background


def test_contrast_threshold_in_daylight():
    # About 1 % in ideal, 2 % in practical conditions (J. Sczepek, The minimum size of brightness
    # differences).
    for background in (30.0, 100.0, 300.0):
        assert 0.005 <= contrast(background, LARGE) <= 0.015
        assert 0.01 <= contrast(background, 10.0 * MINUTE) <= 0.03


def test_contrast_threshold_rises_in_the_dark():
    # Eightfold at a logarithm of -4 in millilamberts (same source); 1 mL = 10/pi cd/m². The two
    # models differ in how they were measured: within a factor of 2.
    dark = 1e-4 * 10.0 / math.pi
    rise = contrast(dark, LARGE) / contrast(100.0, LARGE)
    assert 4.0 <= rise <= 24.0


# Contrast thresholds in cd/m² over backgrounds of 0.001 to 100 cd/m² for discs of 1', 3', 10' and
# 30': worked out from the published formulas as a university's program has them (TU Berlin,
# lighting engineering, "as published in Adrian89", read there), for 2 s and an age of 25 years.
PUBLISHED = {
    0.001: (0.313, 0.0368, 0.00404, 0.000738),
    0.01: (0.489, 0.0607, 0.00781, 0.00191),
    0.1: (0.726, 0.0976, 0.0154, 0.00503),
    1.0: (2.07, 0.295, 0.0534, 0.0203),
    10.0: (7.32, 1.19, 0.277, 0.135),
    100.0: (44.4, 7.71, 2.00, 1.06),
}


def time_and_age(background: float, minutes: float) -> float:
    """Factors of the same model for 2 s and 25 years, which this program leaves at one."""
    u, w = math.log10(minutes) + 0.523, math.log10(background) + 6.0
    by_angle = 0.36 - 0.0972 * u**2 / (u**2 - 2.513 * u + 2.7895)
    by_background = 0.355 - 0.1217 * w**2 / (w**2 - 10.4 * w + 52.28)
    wait = math.hypot(by_angle, by_background) / 2.1
    return (wait + 2.0) / 2.0 * (0.99 + (25.0 - 19.0) ** 2 / 2160.0)


@pytest.mark.parametrize("background", PUBLISHED)
def test_thresholds_are_those_of_the_published_formulas(background):
    for minutes, published in zip((1.0, 3.0, 10.0, 30.0), PUBLISHED[background], strict=True):
        found = float(threshold(background, minutes * MINUTE)) * time_and_age(background, minutes)
        if background == 0.01:  # where they fall, and this threshold is held instead
            assert published * 0.995 < found < published * 1.08
        else:
            assert found == pytest.approx(published, rel=0.005)


def test_small_targets_follow_ricco():
    # Luminance times area is constant below the critical size (Ricco's law).
    for background in (0.01, 1.0, 100.0):
        ratio = threshold(background, 0.1 * MINUTE) / threshold(background, 0.2 * MINUTE)
        assert float(ratio) == pytest.approx(4.0, rel=0.06)


def test_large_targets_follow_weber():
    # Constant contrast in bright light (Weber's law), with a slow drift of a few per cent.
    assert contrast(100.0, LARGE) == pytest.approx(contrast(500.0, LARGE), rel=0.2)


def test_threshold_has_no_jumps_between_its_three_ranges():
    # The three formulas were fitted apart and meet within a few per cent.
    for edge in (0.00418, 0.6):
        for angle in (MINUTE, 10.0 * MINUTE, LARGE):
            below, above = threshold(edge * 0.999, angle), threshold(edge * 1.001, angle)
            assert float(above / below) == pytest.approx(1.0, abs=0.08)


def test_more_light_around_never_makes_it_easier():
    backgrounds = np.geomspace(1e-4, 1e4, 200)
    for angle in (MINUTE, 30.0 * MINUTE):
        values = threshold(backgrounds, angle)
        assert np.all(np.diff(values) >= 0.0)
        assert values[-1] > 1e3 * values[0]


def test_a_line_counts_by_its_area_up_to_half_a_degree():
    # 1 mm at 3.44 m is one minute of arc.
    distance = 1e-3 / MINUTE
    thin = line_angle(1e-3, 1e-3 * 30, distance)  # 1' by 30'
    assert thin == pytest.approx(2.0 * math.sqrt(30.0 / math.pi) * MINUTE, rel=1e-3)
    assert line_angle(1e-3, 1.0, distance) == pytest.approx(thin, rel=1e-3)
    spot = line_angle(1e-3, 1e-3, distance)
    assert spot == pytest.approx(2.0 / math.sqrt(math.pi) * MINUTE, rel=1e-3)
