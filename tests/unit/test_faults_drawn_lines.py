"""The likelihood of a drawn line against closed forms and an independent density."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from glowtrace.faults.appearance import spaced_evenly
from glowtrace.faults.drawn_lines import (
    hand_covariance,
    line_log_likelihood,
    line_log_likelihood_anywhere,
    signed_distances,
)
from glowtrace.faults.sighting import SKETCHED

HEIGHT = (-0.0225, 0.0225)
STRAIGHT = np.stack([np.linspace(0.01, 0.09, 9), np.zeros(9)], axis=1)


def look(*lines: np.ndarray) -> SimpleNamespace:
    return SimpleNamespace(line=np.stack([spaced_evenly(line) for line in lines]))


def test_distances_are_positive_to_the_left_and_nan_from_nothing():
    """Of a straight line along u they are the heights."""
    points = STRAIGHT + np.stack([np.zeros(9), np.linspace(-0.004, 0.004, 9)], axis=1)
    away = signed_distances(points, look(STRAIGHT, np.full((2, 2), np.nan)).line)
    assert away[0] == pytest.approx(points[:, 1], abs=1e-12)
    assert np.isnan(away[1]).all()


def test_the_density_is_that_of_a_careful_and_a_careless_hand():
    points = STRAIGHT + np.array([0.0, 0.0015])
    covariance = hand_covariance(points, SKETCHED)
    careful = multivariate_normal(cov=covariance).pdf(points[:, 1])
    careless = multivariate_normal(cov=9.0 * covariance).pdf(points[:, 1])
    found = line_log_likelihood(points, SKETCHED, look(STRAIGHT), HEIGHT)[0]
    assert found == pytest.approx(np.log(0.95 * careful + 0.05 * careless), rel=1e-9)


def test_a_draw_that_stands_for_sizes_around_it_is_broader_along_what_it_does():
    bent = STRAIGHT + np.stack([np.zeros(9), np.linspace(0.0, 0.006, 9)], axis=1)
    points = STRAIGHT + np.stack([np.zeros(9), np.linspace(0.0, 0.004, 9)], axis=1)
    there, usual = look(bent), look(STRAIGHT)
    does = 0.3 * (signed_distances(points, usual.line) - signed_distances(points, there.line))[0]
    away = signed_distances(points, there.line)[0]
    covariance = hand_covariance(points, SKETCHED) + np.outer(does, does)
    careful = multivariate_normal(cov=covariance).pdf(away)
    careless = multivariate_normal(cov=9.0 * covariance).pdf(away)
    found = line_log_likelihood(points, SKETCHED, there, HEIGHT, usual, 0.3)[0]
    assert found == pytest.approx(np.log(0.95 * careful + 0.05 * careless), rel=1e-9)


def test_a_circle_drawn_too_far_aside_lies_inside_on_one_side():
    """A common offset (a, b) shows along the normal of a circle as a cos + b sin."""
    angle = np.linspace(0.0, 2.0 * np.pi, 41)
    circle = 0.04 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    covariance = hand_covariance(circle, SKETCHED)
    assert covariance[0, 20] < 0.0 < covariance[0, 40]  # half a turn, and a whole one
    as_offset = np.cos(angle) * 0.0025
    as_radius = np.full(41, as_offset.std())
    offset, radius = (each @ np.linalg.solve(covariance, each) for each in (as_offset, as_radius))
    assert offset < radius


def test_many_points_say_little_more_than_a_few():
    away = np.array([0.0, 0.004])
    gains = []
    for count in (9, 90):
        along = np.linspace(0.01, 0.09, count)
        points = np.stack([along, np.zeros(count)], axis=1) + away
        on, off = line_log_likelihood(points, SKETCHED, look(STRAIGHT + away, STRAIGHT), HEIGHT)
        gains.append(on - off)
    assert gains[0] > 1.0
    assert gains[1] < 1.5 * gains[0]


def test_a_zigzag_is_likelier_to_be_of_unknown_cause_and_a_line_is_not():
    zigzag = STRAIGHT + np.stack([np.zeros(9), 0.02 * (-1.0) ** np.arange(9)], axis=1)
    for points, is_known in ((STRAIGHT + np.array([0.0, 0.001]), True), (zigzag, False)):
        known = line_log_likelihood(points, SKETCHED, look(STRAIGHT), HEIGHT)[0]
        anywhere = line_log_likelihood_anywhere(points, SKETCHED, HEIGHT)
        assert bool(known > anywhere) is is_known


def test_where_it_is_dark_a_line_is_hardly_ever_drawn():
    dark = look(STRAIGHT, np.full((2, 2), np.nan))
    lit, none = line_log_likelihood(STRAIGHT, SKETCHED, dark, HEIGHT)
    assert np.isfinite(none)
    assert lit > none + 5.0
