"""The explained motion against printed numbers and closed forms from outside.

Sources stand beside the checks; how far each was seen is told as in the other reference tests.
"""

from dataclasses import replace

import numpy as np
import pytest

from glowtrace.bench.picture import Ray
from glowtrace.bench.settings import Settings
from glowtrace.constants import (
    ELECTRON_MASS,
    ELEMENTARY_CHARGE,
    REST_ENERGY_VOLTS,
    SPECIFIC_CHARGE,
    SPEED_OF_LIGHT,
)
from glowtrace.demos.trochoid import trochoid
from glowtrace.demos.uniform_field import uniform_field_motion
from glowtrace.explain.account import account_of
from glowtrace.explain.drift_frame import DriftFrame, NoFrame, drift_frame
from glowtrace.explain.explanation import explain

FULL_TURN = 2 * np.pi


def ray_in(E, B, velocity, duration, points=400):
    """A ray through uniform fields, by their closed form; its potential is -E.r."""
    E, B, velocity = (np.asarray(each, dtype=float) for each in (E, B, velocity))
    tau = np.linspace(0.0, duration, points)
    motion = uniform_field_motion(E, B, np.zeros(3), velocity, tau)
    return Ray(
        model="bench",
        time=motion.time,
        position=motion.position,
        velocity=motion.velocity,
        potential=-motion.position @ E,
        electric_field=np.broadcast_to(E, motion.position.shape),
        flux_density=np.broadcast_to(B, motion.position.shape),
        end="nothing",
    )


def test_cycloid_from_rest_has_the_printed_generating_circle():
    """From rest: x = E/(omega B) (1 - cos omega t) along E, a circle of diameter 2 E m/(e B^2).

    "Conduction, Electric", Encyclopaedia Britannica, 11th edition, volume 6 (1911), in SI; seen in
    a second-hand copy.
    """
    E, B = 300.0, 1e-3
    omega = SPECIFIC_CHARGE * B
    ray = ray_in([0, E, 0], [0, 0, B], [0, 0, 0], FULL_TURN / omega)
    away = E / (omega * B) * (1 - np.cos(omega * ray.time))
    assert np.abs(ray.position[:, 1]) == pytest.approx(away, abs=1e-5 * away.max())
    frame = drift_frame(ray)
    assert isinstance(frame, DriftFrame)
    assert frame.circle is not None
    assert 2 * frame.circle.radius == pytest.approx(2 * E / (SPECIFIC_CHARGE * B**2), rel=1e-5)
    assert frame.circle.turned == pytest.approx(FULL_TURN, rel=1e-6)
    assert frame.circle.roughness < 1e-9


def test_velocity_filter_of_the_open_textbook():
    """Electron, B = 2.0 mT, E = 6.0e3 N/C: passes at 3e6 m/s; in B alone r = 8.5e-3 m.

    OpenStax, University Physics Volume 2, section 11.6, example 11.8 (printed answers, seen).
    """
    E, B, v = 6.0e3, 2.0e-3, 3.0e6
    passing = ray_in([0, E, 0], [0, 0, B], [v, 0, 0], 1e-8)
    frame = drift_frame(passing)
    assert isinstance(frame, DriftFrame)
    assert frame.velocity == pytest.approx([3e6, 0, 0], rel=1e-12)
    account = account_of(passing)
    assert np.abs(account.force).max() < 1e-9 * np.abs(account.electric_force).max()
    acceleration = np.linalg.norm(account.electric_force[0]) / ELECTRON_MASS
    assert acceleration == pytest.approx(1.1e15, rel=0.05)  # printed with two figures
    in_field = drift_frame(ray_in([0, 0, 0], [0, 0, B], [v, 0, 0], 1e-8))
    assert isinstance(in_field, DriftFrame)
    assert in_field.is_laboratory
    assert in_field.circle is not None
    assert in_field.circle.radius == pytest.approx(8.5e-3, rel=0.01)


def test_speeds_between_plates_of_the_open_textbook():
    """From 4.0e5 m/s along 200 V over 2.0 cm: 1.9, 4.2, 5.9, 7.3, 8.4 x 10^6 m/s.

    OpenStax, University Physics Volume 2, section 7.6, exercise on an electron between plates
    (printed answers, seen), at 0.10, 0.50, 1.0, 1.5 and 2.0 cm.
    """
    ray = ray_in([-200 / 0.020, 0, 0], [0, 0, 0], [4.0e5, 0, 0], 4.9e-9, points=2000)
    account = account_of(ray)
    x = account.position[:, 0]
    for way, printed in zip(
        (0.001, 0.005, 0.010, 0.015, 0.020), (1.9, 4.2, 5.9, 7.3, 8.4), strict=True
    ):
        assert np.interp(way, x, account.speed) == pytest.approx(printed * 1e6, abs=0.06e6)
    gained = np.interp(0.020, x, account.electric_work) / ELEMENTARY_CHARGE
    assert gained == pytest.approx(200.0, rel=1e-6)
    assert np.abs(account.work_residual).max() < 1e-6 * 200 * ELEMENTARY_CHARGE


@pytest.mark.parametrize(
    ("voltage", "E_y", "B_z"),
    [(1600.0, -1.2e4, -1.0e-3), (3000.0, -3.0e4, -1.5e-3), (5000.0, 4.0e4, 3.0e-3)],
)
def test_drift_frame_circle_is_that_of_the_closed_form(voltage, E_y, B_z):
    """The exact trochoid: radius v'/omega' and speed v' in the drift frame.

    Closed form of `glowtrace.demos.trochoid`, itself checked against published forms.
    """
    ratio = voltage / REST_ENERGY_VOLTS
    speed = SPEED_OF_LIGHT * np.sqrt(ratio * (ratio + 2)) / (1 + ratio)
    expected = trochoid(speed, E_y, B_z)
    ray = ray_in([0, E_y, 0], [0, 0, B_z], [speed, 0, 0], 0.8 * expected.period)
    frame = drift_frame(ray)
    assert isinstance(frame, DriftFrame)
    assert frame.circle is not None
    assert frame.velocity == pytest.approx([expected.drift_speed, 0, 0], rel=1e-12)
    radius = abs(expected.rest_speed) / expected.rest_rate
    assert frame.circle.radius == pytest.approx(radius, rel=1e-8)
    assert frame.circle.expected_radius == pytest.approx(radius, rel=1e-8)
    assert frame.speed_seen == pytest.approx(np.full(400, abs(expected.rest_speed)), rel=1e-9)
    # No electric field is left, and the magnetic one is B/gamma_d.
    assert np.abs(frame.electric_field_seen).max() < 1e-9 * abs(E_y)
    gamma_d = 1 / np.sqrt(1 - (expected.drift_speed / SPEED_OF_LIGHT) ** 2)
    assert frame.flux_density_seen[:, 2] == pytest.approx(np.full(400, B_z / gamma_d), rel=1e-12)


def test_no_frame_where_the_electric_field_is_too_strong():
    """|E| >= c B: every observer still sees an electric field (Jackson, section 12.3)."""
    B = 1e-4
    frame = drift_frame(ray_in([0, 1.01 * SPEED_OF_LIGHT * B, 0], [0, 0, B], [1e7, 0, 0], 1e-9))
    assert isinstance(frame, NoFrame)
    assert frame.reason == "electric too strong"
    assert "faster than light" in frame.says
    alone = drift_frame(ray_in([0, 1e4, 0], [0, 0, 0], [1e7, 0, 0], 1e-9))
    assert isinstance(alone, NoFrame)
    assert alone.reason == "no magnetic field"


def test_the_tracer_of_the_ideal_tube_runs_round_the_same_circle(deflection_tube):
    """The tube's own path in uniform fields, seen from the drift frame, against the closed form."""
    settings = Settings(
        accelerating_voltage=1000.0, plate_voltage=2500.0, coil_current=1.0, coil_reversed=True
    )
    trace = explain(deflection_tube, settings, model="ideal")
    frame = trace.frame
    assert isinstance(frame, DriftFrame)
    assert frame.circle is not None
    entry = trace.mark("Plates begin")
    assert entry is not None
    field = trace.ray.electric_field[frame.stretch][0]
    flux = trace.ray.flux_density[0]
    # The electron enters at an angle, bent by the coils before the plates: its speed counts.
    seen = float(frame.speed_seen[frame.stretch][0])
    gamma = 1 / np.sqrt(1 - (seen / SPEED_OF_LIGHT) ** 2)
    drift = field[1] / flux[2]
    turning = abs(flux[2]) * np.sqrt(1 - (drift / SPEED_OF_LIGHT) ** 2)
    assert frame.velocity[0] == pytest.approx(drift, rel=1e-12)
    assert frame.circle.radius == pytest.approx(
        gamma * seen / (SPECIFIC_CHARGE * turning), rel=1e-5
    )
    assert frame.circle.roughness < 1e-7
    assert frame.circle.turned > np.pi


def test_where_the_path_leaves_the_plates_and_comes_back_only_one_stretch_counts(deflection_tube):
    """The drift is E/B of the plates' field; the gap without any field must not thin it."""
    settings = Settings(
        accelerating_voltage=1000.0, plate_voltage=2500.0, coil_current=1.0, coil_reversed=True
    )
    ray = explain(deflection_tube, settings, model="ideal").ray
    inside = np.flatnonzero((ray.electric_field != 0.0).any(axis=1))
    electric = ray.electric_field.copy()
    electric[inside[len(inside) // 3] : inside[len(inside) // 2]] = 0.0
    frame = drift_frame(replace(ray, electric_field=electric))
    assert isinstance(frame, DriftFrame)
    drift = ray.electric_field[inside[0], 1] / ray.flux_density[0, 2]
    assert frame.velocity[0] == pytest.approx(drift, rel=1e-12)
    assert frame.stretch.start == inside[len(inside) // 2]
