"""What is read off a path, against closed forms of uniform fields and of given curves."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.path import Path, nowhere, turns_about_axis
from glowtrace.constants import SPECIFIC_CHARGE

SPEED = 1e6
"""m/s; slow enough for gamma to be 1 to 6e-6."""


def path_of(x, y, vx, vy, time):
    """A path in the x-y plane from its places and velocities at times (t,)."""
    flat = np.zeros_like(time)
    return Path(
        time=time,
        position=np.stack([x, y, flat], axis=1),
        velocity=np.stack([vx, vy, flat], axis=1),
        end="still flying",
    )


def circle(radius, turns, points=400):
    """A circle that leaves the origin along x and turns upwards."""
    rate = SPEED / radius
    time = np.linspace(0.0, 2 * math.pi * turns / rate, points)
    angle = rate * time
    return path_of(
        radius * np.sin(angle),
        radius * (1 - np.cos(angle)),
        SPEED * np.cos(angle),
        SPEED * np.sin(angle),
        time,
    )


def test_circle_is_read_between_its_points():
    path = circle(0.04, 0.9)
    for x in (0.001, 0.0233, 0.0399):
        assert path.height_at(x) == pytest.approx(0.04 - math.sqrt(0.04**2 - x**2), abs=1e-9)
    assert path.far_height() == pytest.approx(0.08, abs=1e-9)
    (turn,) = path.turning_points()
    assert turn.x == pytest.approx(0.0, abs=1e-9)
    # A place of negative x is first reached from above, on the way round.
    assert path.height_at(-0.01) == pytest.approx(0.04 + math.sqrt(0.04**2 - 0.01**2), abs=1e-9)
    assert math.isnan(path.height_at(0.05))


def test_cusped_cycloid_is_read_at_its_corner():
    """x = r (a - sin a), y = -r (1 - cos a): the electron rests at a = 2 pi, where a corner is."""
    r, angle = 0.01, np.linspace(math.pi, 3.5 * math.pi, 60)
    time = (angle - angle[0]) * 1e-9
    pace = 1e9 * r
    path = path_of(
        r * (angle - np.sin(angle)),
        r * (1 - np.cos(angle)) - 2 * r,
        pace * (1 - np.cos(angle)),
        pace * np.sin(angle),
        time,
    )
    corner, top = path.turning_points()
    assert (corner.x, corner.y) == pytest.approx((2 * math.pi * r, -2 * r), abs=2e-8)
    # Where it is level is found a little less well than how high it is there.
    assert top.y == pytest.approx(0.0, abs=1e-8)
    assert top.x == pytest.approx(3 * math.pi * r, abs=1e-6)


def test_wave_is_back_on_the_axis_and_can_be_cut():
    time = np.linspace(0.0, 0.1 / SPEED, 120)
    x = SPEED * time
    path = path_of(x, 0.01 * np.sin(50 * x), SPEED + 0 * x, 0.5 * SPEED * np.cos(50 * x), time)
    assert path.back_on_axis() == pytest.approx(math.pi / 50, abs=1e-9)
    assert path.far_height() == pytest.approx(0.01, abs=1e-9)
    cut = path.until(0.0314)
    assert cut is not None
    assert cut.position[-1] == pytest.approx([0.0314, 0.01 * math.sin(50 * 0.0314), 0.0], abs=1e-9)
    assert cut.velocity[-1, 1] == pytest.approx(0.5 * SPEED * math.cos(50 * 0.0314), abs=1.0)
    assert path.until(0.2) is None


def test_normal_distance_has_its_sign():
    path = circle(0.04, 0.2)
    angle = 0.5
    for off in (0.002, -0.002):  # inwards is to the left
        away = 0.04 - off
        x, y = away * math.sin(angle), 0.04 - away * math.cos(angle)
        assert path.normal_distance(x, y) == pytest.approx(off, abs=1e-10)


def test_electron_that_never_leaves_has_nothing_to_read():
    path = nowhere()
    assert math.isnan(path.height_at(0.0))
    assert math.isnan(path.far_height())
    assert math.isnan(path.back_on_axis())
    assert math.isnan(path.normal_distance(0.0, 0.0))
    assert path.until(0.1) is None


@pytest.mark.parametrize("slope", [1e-4, 0.05])
def test_helix_makes_one_turn_in_two_pi_m_v_over_e_b(slope):
    """Length of a turn along the field: 2 pi m v / (e B), any textbook."""
    flux = 1e-3
    rate = SPECIFIC_CHARGE * flux / math.hypot(1.0, SPEED / 299_792_458.0)
    across = slope * SPEED
    time = np.linspace(0.0, 2.2 * 2 * math.pi / rate, 500)
    angle, radius = rate * time, across / rate
    ray = Path(
        time=time,
        position=np.stack(
            [SPEED * time, radius * np.sin(angle), radius * (1 - np.cos(angle))], axis=1
        ),
        velocity=np.stack(
            [SPEED + 0 * time, across * np.cos(angle), across * np.sin(angle)], axis=1
        ),
        end="screen",
    )
    flat = np.zeros_like(time)
    axis = Path(
        time=time,
        position=np.stack([SPEED * time, flat, flat], axis=1),
        velocity=np.stack([SPEED + flat, flat, flat], axis=1),
        end="screen",
    )
    for turns in (1.0, 2.0):
        length = turns * 2 * math.pi * SPEED / rate
        counted = turns_about_axis(ray, axis, np.full(len(time), flux), length)
        assert counted == pytest.approx(turns, abs=2e-4)
