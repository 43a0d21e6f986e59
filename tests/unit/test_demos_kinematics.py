"""Speed, momentum and the limits of the closed forms' arguments."""

import math

import numpy as np
import pytest

from glowtrace.constants import REST_ENERGY_VOLTS, SPEED_OF_LIGHT
from glowtrace.demos.circle import gyration_radius
from glowtrace.demos.helix import focus_flux_density
from glowtrace.demos.kinematics import (
    lorentz_factor,
    lorentz_factor_from_voltage,
    momentum_from_voltage,
    speed_from_voltage,
)
from glowtrace.demos.null import drift_speed, force_ratio
from glowtrace.demos.parabola import parabola_height
from glowtrace.demos.trochoid import crossed_regime, trochoid
from glowtrace.demos.uniform_field import uniform_field_motion
from glowtrace.errors import GlowtraceError


def test_kinetic_energy_equal_to_the_rest_energy() -> None:
    # gamma = 2, so beta = sqrt(3)/2: by the definition of gamma
    assert lorentz_factor_from_voltage(REST_ENERGY_VOLTS) == pytest.approx(2, rel=1e-12)
    assert speed_from_voltage(REST_ENERGY_VOLTS) / SPEED_OF_LIGHT == pytest.approx(
        math.sqrt(0.75), rel=1e-12
    )


def test_arrays_keep_their_shape() -> None:
    voltages = np.array([[100.0, 200.0], [300.0, 400.0]])
    speeds = speed_from_voltage(voltages)
    assert speeds.shape == voltages.shape
    assert speeds[1, 0] == speed_from_voltage(300.0)
    assert momentum_from_voltage(voltages)[0, 1] == momentum_from_voltage(200.0)


@pytest.mark.parametrize("voltage", [-5.0, math.nan, math.inf])
def test_impossible_voltages_are_named(voltage: float) -> None:
    with pytest.raises(GlowtraceError, match=rf"accelerating voltage: {voltage} V .* 0 V or more"):
        speed_from_voltage(voltage)


@pytest.mark.parametrize("speed", [-1.0, SPEED_OF_LIGHT, math.nan])
def test_impossible_speeds_are_named(speed: float) -> None:
    with pytest.raises(GlowtraceError, match=r"speed: .* less than 299792458 m/s"):
        lorentz_factor(speed)
    with pytest.raises(GlowtraceError, match="specific charge: 0"):
        speed_from_voltage(100.0, specific_charge=0)


def test_motion_faster_than_light_is_refused() -> None:
    with pytest.raises(GlowtraceError, match="speed"):
        uniform_field_motion([0, 0, 0], [0, 0, 0], [0, 0, 0], [2.5e8, 2.5e8, 0], 1e-9)


def test_fields_of_zero() -> None:
    assert gyration_radius(1e7, 0.0) == math.inf
    assert parabola_height(0.1, 1e7, 0.0) == 0
    assert drift_speed(1e4, 0.0) == math.inf
    assert drift_speed(-1e4, 0.0) == -math.inf
    assert math.isnan(force_ratio(1e7, 0.0, 0.0))
    free = uniform_field_motion([0, 0, 0], [0, 0, 0], [1, 2, 3], [1e7, 0, 0], [0.0, 1e-8])
    assert free.position[0] == pytest.approx([1, 2, 3], abs=0)
    assert free.position[1, 0] == pytest.approx(1 + 1e7 * free.time[1], rel=1e-15)


@pytest.mark.parametrize(
    ("E_y", "B_z", "regime"),
    [
        (0.0, 0.0, "straight"),
        (-1e4, 0.0, "parabola"),
        (0.0, 1e-3, "arc"),
        (1e4, 1e-3, "null"),
        (0.7e4, 1e-3, "forward trochoid"),
        (1.5e4, 1e-3, "forward trochoid"),
        (0.3e4, 1e-3, "looping trochoid"),
        (-0.3e4, 1e-3, "looping trochoid"),
        (4e5, 1e-3, "parabola"),  # E > c B: nothing turns back
    ],
)
def test_regimes_of_crossed_fields(E_y: float, B_z: float, regime: str) -> None:
    assert crossed_regime(1e7, E_y, B_z) == regime


def test_a_strong_electric_field_has_no_trochoid() -> None:
    with pytest.raises(GlowtraceError, match=r"E_y: 300000 V/m .* below 299792 V/m"):
        trochoid(1e7, 3e5, 1e-3)
    with pytest.raises(GlowtraceError, match=r"below 0 V/m"):
        trochoid(1e7, 3e5, 0.0)
    # The exact motion has no such border: the electron runs away upwards.
    motion = uniform_field_motion([0, -3e5, 0], [0, 0, 1e-3], [0] * 3, [1e7, 0, 0], [1e-9, 1e-8])
    assert 0 < motion.position[0, 1] < motion.position[1, 1]


def test_without_electric_field_the_trochoid_is_the_circle() -> None:
    circle = trochoid(1e7, 0.0, 1e-3)
    assert circle.depth == pytest.approx(2 * gyration_radius(1e7, 1e-3))
    assert circle.pitch == 0
    assert circle.far_point_speed == pytest.approx(-1e7)


@pytest.mark.parametrize(("distance", "turns"), [(0.0, 1), (-0.1, 1), (0.2, 0)])
def test_focus_needs_a_distance_and_a_turn(distance: float, turns: int) -> None:
    with pytest.raises(GlowtraceError, match=r"^(distance|turns): .* positive"):
        focus_flux_density(1e7, distance, turns=turns)
