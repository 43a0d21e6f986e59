"""Laws that the closed forms keep for every field, speed and time."""

import math

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.demos.circle import arc_height, gyration_radius
from glowtrace.demos.helix import helix_pitch, helix_radius
from glowtrace.demos.kinematics import lorentz_factor, speed_from_voltage, voltage_from_speed
from glowtrace.demos.null import null_flux_density, null_plate_voltage
from glowtrace.demos.parabola import height_beyond_plates, parabola_height, parabola_slope
from glowtrace.demos.trochoid import crossed_regime, cusp_force_ratio, trochoid
from glowtrace.demos.uniform_field import field_matrix, uniform_field_motion

Vector = NDArray[np.float64]
ORIGIN = np.zeros(3)
few = settings(max_examples=60)

speeds = st.floats(1e6, 2.7e8)
E_fields = st.floats(-5e5, 5e5)
B_fields = st.floats(-1e-2, 1e-2)
times = st.floats(-3e-9, 3e-9)
fractions = st.floats(0.0, 1.0)


def vectors(largest: float) -> st.SearchStrategy[Vector]:
    part = st.floats(-largest, largest) | st.just(0.0)
    return st.tuples(part, part, part).map(np.array)


velocities = vectors(1.6e8)


def gamma_of(velocity: Vector) -> float:
    return float(lorentz_factor(float(np.linalg.norm(velocity))))


@given(st.floats(0.0, 3e7))
@few
def test_voltage_and_speed_are_inverse(voltage: float) -> None:
    speed = speed_from_voltage(voltage)
    # Near c the speed hardly tells the voltage any more: gamma^2 is the condition of the inverse.
    precision = 1e-14 * (1 + voltage / 5.11e5) ** 3 + 1e-14
    assert voltage_from_speed(speed) == pytest.approx(voltage, rel=precision, abs=1e-300)


@given(st.floats(1e-9, 1e-2))
@few
def test_low_voltages_keep_all_figures(voltage: float) -> None:
    classical = math.sqrt(2 * SPECIFIC_CHARGE * voltage)
    first_order = 1 - 0.75 * voltage * SPECIFIC_CHARGE / SPEED_OF_LIGHT**2
    assert speed_from_voltage(voltage) == pytest.approx(classical * first_order, rel=1e-14)


@given(speeds, E_fields, times)
@few
def test_null_gives_a_straight_line(speed: float, E_y: float, tau: float) -> None:
    B_z = null_flux_density(speed, E_y)
    motion = uniform_field_motion([0, E_y, 0], [0, 0, B_z], ORIGIN, [speed, 0, 0], tau)
    assert motion.position[0] == pytest.approx([speed * motion.time[0], 0, 0], abs=1e-12)
    assert null_plate_voltage(speed, B_z, 0.05) == pytest.approx(-E_y * 0.05)
    if abs(E_y) > 1:
        assert crossed_regime(speed, E_y, B_z) == "null"


@given(vectors(5e5), vectors(1e-2), velocities, times)
@few
def test_energy_follows_the_potential(E: Vector, B: Vector, velocity: Vector, tau: float) -> None:
    # gamma m c^2 - e phi is constant, with phi = -E.r: u^0 = gamma c changes by -(e / m c) E.dr
    motion = uniform_field_motion(E, B, ORIGIN, velocity, tau)
    gain = -SPECIFIC_CHARGE * (E @ motion.position[0]) / SPEED_OF_LIGHT**2
    after = gamma_of(motion.velocity[0])
    assert after == pytest.approx(gamma_of(velocity) + gain, rel=1e-9)


@given(vectors(5e5), vectors(1e-2), velocities, times, times)
@few
def test_two_stretches_make_one(
    E: Vector, B: Vector, velocity: Vector, first: float, second: float
) -> None:
    whole = uniform_field_motion(E, B, ORIGIN, velocity, first + second)
    half = uniform_field_motion(E, B, ORIGIN, velocity, first)
    rest = uniform_field_motion(E, B, half.position[0], half.velocity[0], second)
    assert rest.position[0] == pytest.approx(whole.position[0], abs=1e-10)
    assert half.time[0] + rest.time[0] == pytest.approx(whole.time[0], abs=1e-18)


@given(vectors(5e5), vectors(1e-2), velocities, times)
@few
def test_mirror_in_the_horizontal_plane(E: Vector, B: Vector, velocity: Vector, tau: float) -> None:
    # y -> -y: E and v are vectors, B an axial vector
    polar, axial = np.array([1, -1, 1]), np.array([-1, 1, -1])
    motion = uniform_field_motion(E, B, ORIGIN, velocity, tau)
    image = uniform_field_motion(polar * E, axial * B, ORIGIN, polar * velocity, tau)
    assert image.position[0] == pytest.approx(polar * motion.position[0], abs=1e-13)
    assert image.time[0] == pytest.approx(motion.time[0])


@given(vectors(5e5), vectors(1e-2), velocities, vectors(1.2e8), times)
@few
def test_moving_observers_agree(
    E: Vector, B: Vector, velocity: Vector, frame: Vector, tau: float
) -> None:
    # Transform fields, start and end to a moving frame: the same proper time gives the same event.
    boost = lorentz_boost(frame)
    M = boost @ field_matrix(E, B) @ np.linalg.inv(boost) / -SPECIFIC_CHARGE
    seen_E, seen_B = M[0, 1:] * SPEED_OF_LIGHT, np.array([M[2, 3], M[3, 1], M[1, 2]])
    start = boost @ (gamma_of(velocity) * np.array([SPEED_OF_LIGHT, *velocity]))
    seen_velocity = SPEED_OF_LIGHT * start[1:] / start[0]
    here = uniform_field_motion(E, B, ORIGIN, velocity, tau)
    there = uniform_field_motion(seen_E, seen_B, ORIGIN, seen_velocity, tau)
    event = boost @ np.array([SPEED_OF_LIGHT * here.time[0], *here.position[0]])
    assert SPEED_OF_LIGHT * there.time[0] == pytest.approx(event[0], abs=1e-9)
    assert there.position[0] == pytest.approx(event[1:], abs=1e-9)


def lorentz_boost(frame: Vector) -> NDArray[np.float64]:
    """Boost matrix to a frame that moves with a velocity, as any text on relativity has it."""
    gamma, beta = gamma_of(frame), frame / SPEED_OF_LIGHT
    boost = np.empty((4, 4))
    boost[0, 0] = gamma
    boost[0, 1:] = boost[1:, 0] = -gamma * beta
    # (gamma - 1) / beta^2 = gamma^2 / (gamma + 1)
    boost[1:, 1:] = np.eye(3) + gamma**2 / (gamma + 1) * np.outer(beta, beta)
    return boost


@given(speeds, E_fields, fractions)
@example(1e6, 2.2250738585e-313, 0.5)  # next to no field
@few
def test_parabola_is_the_motion_between_plates(speed: float, E_y: float, fraction: float) -> None:
    x = 0.2 * fraction
    tau = x / (lorentz_factor(speed) * speed)  # p_x is constant
    assume(abs(parabola_slope(x, speed, E_y)) < 1e3)
    motion = uniform_field_motion([0, E_y, 0], ORIGIN, ORIGIN, [speed, 0, 0], tau)
    height = parabola_height(x, speed, E_y)
    assert motion.position[0] == pytest.approx([x, height, 0], rel=1e-9, abs=1e-12)
    slope = motion.velocity[0, 1] / motion.velocity[0, 0]
    assert slope == pytest.approx(parabola_slope(x, speed, E_y), rel=1e-9, abs=1e-12)
    beyond = height_beyond_plates(np.array([x, x + 0.1]), x, speed, E_y)
    assert beyond == pytest.approx([height, height + 0.1 * slope], rel=1e-9, abs=1e-12)


@given(speeds, st.floats(1e-4, 1e-2), st.sampled_from([-1, 1]), st.floats(0.01, 0.99))
@few
def test_arc_is_the_motion_in_the_coils(speed: float, B: float, sign: int, part: float) -> None:
    radius = gyration_radius(speed, B)
    angle = math.asin(part)
    tau = angle / (SPECIFIC_CHARGE * B)
    motion = uniform_field_motion(ORIGIN, [0, 0, sign * B], ORIGIN, [speed, 0, 0], tau)
    height = arc_height(np.array([part * radius]), speed, sign * B)[0]
    assert motion.position[0] == pytest.approx([part * radius, height, 0], rel=1e-9)
    assert height * sign > 0
    assert np.isnan(arc_height(np.array([1.01 * radius]), speed, B)[0])


@given(speeds, st.floats(1e-3, 1e-2), st.sampled_from([-1, 1]), st.floats(-0.9, 0.9))
@few
def test_trochoid_is_the_motion_in_crossed_fields(
    speed: float, B: float, sign: int, drift_part: float
) -> None:
    B_z = sign * B
    E_y = drift_part * SPEED_OF_LIGHT * B_z
    found = trochoid(speed, E_y, B_z)
    phase = np.linspace(0, 4 * np.pi, 33)
    gamma_d = lorentz_factor(abs(found.drift_speed))
    tau = phase * gamma_d / (SPECIFIC_CHARGE * B)
    motion = uniform_field_motion([0, E_y, 0], [0, 0, B_z], ORIGIN, [speed, 0, 0], tau)
    path = found.path(phase)
    scale = SPEED_OF_LIGHT * tau[-1] * lorentz_factor(speed) * gamma_d**2
    assert path.x == pytest.approx(motion.position[:, 0], abs=1e-10 * scale)
    assert path.y == pytest.approx(motion.position[:, 1], abs=1e-10 * scale)
    assert path.time == pytest.approx(motion.time, abs=1e-10 * scale / SPEED_OF_LIGHT)
    # Half a turn on, at the far point, the velocity is horizontal and as promised.
    far, far_velocity = motion.position[8], motion.velocity[8]
    assert far[1] == pytest.approx(found.depth, abs=1e-10 * scale)
    expected = [found.far_point_speed, 0, 0]
    assert far_velocity == pytest.approx(expected, abs=1e-6 * SPEED_OF_LIGHT)
    # After a whole turn the electron is back at the height of entry, a pitch and a period on.
    assert motion.position[16] == pytest.approx([found.pitch, 0, 0], abs=1e-10 * scale)
    assert motion.time[16] == pytest.approx(found.period, rel=1e-9)


@given(speeds, st.floats(1e-3, 1e-2), st.floats(-0.95, 2.0))
@few
def test_regimes_say_which_way_the_far_point_moves(speed: float, B_z: float, ratio: float) -> None:
    E_y = ratio * speed * B_z
    assume(abs(E_y) < 0.99 * SPEED_OF_LIGHT * B_z)
    cusp = cusp_force_ratio(speed)
    assume(min(abs(ratio), abs(ratio - 1), abs(ratio - cusp)) > 1e-6)
    far_point_speed = trochoid(speed, E_y, B_z).far_point_speed
    regime = crossed_regime(speed, E_y, B_z)
    assert regime == ("forward trochoid" if far_point_speed > 0 else "looping trochoid")
    # Beyond the null the electric force wins: the beam goes to the other side.
    assert (trochoid(speed, E_y, B_z).depth > 0) == (ratio < 1)


@given(speeds, st.floats(1e-3, 1e-2))
@few
def test_cusp_is_where_the_electric_field_takes_all_energy(speed: float, B_z: float) -> None:
    E_y = cusp_force_ratio(speed) * speed * B_z
    cusp = trochoid(speed, E_y, B_z)
    assert crossed_regime(speed, E_y, B_z) == "cusp"
    assert cusp.far_point_speed == pytest.approx(0, abs=1e-6 * SPEED_OF_LIGHT)
    assert abs(E_y * cusp.depth) == pytest.approx(voltage_from_speed(speed), rel=1e-6)


@given(speeds, st.floats(0.0, 1.5), st.floats(1e-4, 1e-2), st.sampled_from([-1, 1]))
@few
def test_helix_is_the_motion_along_a_field(speed: float, angle: float, B: float, sign: int) -> None:
    turn = 2 * np.pi / (SPECIFIC_CHARGE * B)
    velocity = speed * np.array([math.cos(angle), math.sin(angle), 0])
    motion = uniform_field_motion(ORIGIN, [sign * B, 0, 0], ORIGIN, velocity, [turn / 2, turn])
    pitch, radius = helix_pitch(speed, angle, B), helix_radius(speed, angle, B)
    assert motion.position[1] == pytest.approx([pitch, 0, 0], abs=1e-11 * (1 + pitch))
    across = np.linalg.norm(motion.position[0, 1:])
    assert across == pytest.approx(2 * radius, abs=1e-11 * (1 + radius))


@given(st.floats(1e-4, 1e-2), st.sampled_from([-1e-6, -1e-9, 0.0, 1e-9, 1e-6]), times)
@few
def test_nothing_special_happens_where_e_equals_c_b(B: float, offset: float, tau: float) -> None:
    # The border between turning back and running away: the closed form must cross it smoothly.
    E = SPEED_OF_LIGHT * B
    start = [1e8, 2e7, -1e7]
    border = uniform_field_motion([0, E, 0], [0, 0, B], ORIGIN, start, tau)
    beside = uniform_field_motion([0, E * (1 + offset), 0], [0, 0, B], ORIGIN, start, tau)
    reach = SPEED_OF_LIGHT * abs(tau) * (1 + (SPECIFIC_CHARGE * B * tau) ** 2)
    assert beside.position[0] == pytest.approx(
        border.position[0], abs=(100 * abs(offset) + 1e-11) * (reach + 1e-6)
    )
