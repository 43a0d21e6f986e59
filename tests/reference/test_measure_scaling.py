"""Another e/m in the traced model, against scipy's general solver that knows nothing of the trick.

The Lorentz force is written out for a particle of the other e/m, in the unscaled fields of the
bench, and integrated in laboratory time by DOP853.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from glowtrace.constants import SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.fields.interpolation import fields_at
from glowtrace.measure.tracer import Tracer
from glowtrace.measure.tube import nominal_tube

EARTH = {"earth_x": 12e-6, "earth_y": -31e-6, "earth_z": 18e-6}


def solution_of(prepared, tube, voltage, plate_voltage, current, charge, longest_path, **options):
    """Solve the motion of a particle of another e/m; states are position, gamma v and length."""
    plain = replace(tube, specific_charge=SPECIFIC_CHARGE)
    field = Tracer(prepared).field(plain, plate_voltage, current)
    _, _, potential = fields_at(field, np.zeros((1, 3)))
    energy = (voltage + tube.contact_offset + potential[0]) * charge / SPEED_OF_LIGHT**2
    momentum = SPEED_OF_LIGHT * math.sqrt(energy * (energy + 2))  # gamma v

    def slope(time, state):
        gamma = math.sqrt(1 + state[3:6] @ state[3:6] / SPEED_OF_LIGHT**2)
        velocity = state[3:6] / gamma
        electric, flux, _ = fields_at(field, state[None, :3])
        force = -charge * (electric[0] + np.cross(velocity, flux[0]))
        return np.concatenate([velocity, force, [np.linalg.norm(velocity)]])

    start = np.array([0.0, 0.0, 0.0, momentum, 0.0, 0.0, 0.0])
    longest = 1.3 * longest_path / (momentum / (1 + energy))
    return solve_ivp(
        slope, (0, longest), start, method="DOP853", dense_output=True, rtol=1e-11,
        atol=[1e-12] * 3 + [1e-4] * 3 + [1e-12], **options,
    )  # fmt: skip


def solved_path(prepared, tube, voltage, plate_voltage, current, charge, points):
    """Positions of a particle of another e/m after the given lengths of its path."""
    solution = solution_of(prepared, tube, voltage, plate_voltage, current, charge, points[-1])
    times = np.interp(points, solution.y[6], solution.t)
    for _ in range(4):  # Newton: the length along the path is the speed's integral
        state = solution.sol(times)
        speed = np.linalg.norm(state[3:6], axis=0)
        speed /= np.sqrt(1 + speed**2 / SPEED_OF_LIGHT**2)
        times -= (state[6] - points) / speed
    return solution.sol(times)[:3].T


@pytest.mark.parametrize("ratio", [0.6, 1.0, 1.7])
def test_other_specific_charge_in_a_bulb(fine_beam_bulb, ratio):
    tube = replace(
        nominal_tube(fine_beam_bulb.bench, "bench"),
        specific_charge=ratio * SPECIFIC_CHARGE,
        contact_offset=-2.0,
        **EARTH,
    )
    current = 1.5 / math.sqrt(ratio)
    path = Tracer(fine_beam_bulb).path(tube, 220.0, 0.0, current)
    lengths = np.array([0.03, 0.08, 0.12])
    wanted = solved_path(
        fine_beam_bulb, tube, 220.0, 0.0, current, ratio * SPECIFIC_CHARGE, lengths
    )
    found = path.position[np.rint(lengths / 5e-4).astype(int)]
    # Stations lie at equal chords: their place along the path is a little off, so compare the
    # distance from the path and not from the point.
    for point, place in zip(wanted, found, strict=True):
        assert np.linalg.norm(point - place) < 3e-6
        assert abs(path.normal_distance(*point[:2])) < 0.2e-6


@pytest.mark.parametrize("tie", ["symmetric", "lower at anode", "upper at anode"])
@pytest.mark.parametrize("ratio", [0.7, 1.5])
def test_other_specific_charge_between_plates(deflection_tube, tie, ratio):
    # 5 kV: the mass has grown by 1 %, so that a scaling for slow electrons only would show
    tube = replace(
        nominal_tube(deflection_tube.bench, "bench"),
        specific_charge=ratio * SPECIFIC_CHARGE,
        plate_tie=tie,
        **EARTH,
    )
    path = Tracer(deflection_tube).path(tube, 5000.0, 1500.0, -0.1)
    wanted = solved_path(
        deflection_tube, tube, 5000.0, 1500.0, -0.1, ratio * SPECIFIC_CHARGE,
        np.array([0.02, 0.05, 0.08]),
    )  # fmt: skip
    for point in wanted:
        assert abs(path.normal_distance(*point[:2])) < 0.2e-6
        assert path.height_at(point[0]) == pytest.approx(point[1], abs=0.3e-6)


@pytest.mark.parametrize("ratio", [0.9, 1.1])
def test_depth_and_pitch_of_another_specific_charge(deflection_tube, ratio):
    tube = replace(
        nominal_tube(deflection_tube.bench, "bench"), specific_charge=ratio * SPECIFIC_CHARGE
    )

    def runs_level(time, state):
        return state[4]

    def is_on_the_axis(time, state):
        return state[1] if state[6] > 0.02 else -1.0

    solved = solution_of(
        deflection_tube, tube, 1200.0, 3500.0, -1.4, ratio * SPECIFIC_CHARGE, 0.12,
        events=(runs_level, is_on_the_axis), max_step=2e-11,
    )  # fmt: skip
    levels = [state for state in solved.y_events[0] if state[6] > 1e-3]
    path = Tracer(deflection_tube).path(tube, 1200.0, 3500.0, -1.4)
    # Near the cusp the path has a corner, which stations 0.5 mm apart cut by less than 1 um.
    assert path.far_height() == pytest.approx(levels[0][1], abs=1e-6)
    assert path.back_on_axis() == pytest.approx(solved.y_events[1][0][0], abs=1e-6)
