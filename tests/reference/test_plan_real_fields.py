"""Plans made in the real fields, flown again by an independent integrator in the same fields.

scipy's DOP853 (E. Hairer, S. P. Norsett, G. Wanner, "Solving Ordinary Differential Equations I"),
at a relative tolerance of 1e-11, with the equation of motion written again here.
"""

import math

import numpy as np
import pytest
from scipy.constants import c, e, m_e
from scipy.integrate import solve_ivp

from glowtrace.demos.goals import (
    CoilDeflection,
    FullCircle,
    HelixFocus,
    PlateDeflection,
    StraightBeam,
    TurnBack,
)
from glowtrace.fields.interpolation import fields_at
from glowtrace.plan import plan_goal

CLOSE = 2e-7
"""m: a hundredth of what a plan's own search leaves."""


def flown(tube, settings, *, z=0.0, slope=0.0, stop, span=0.3):
    """Integrate one electron over a path of ``span`` m; gives the solution with its events."""
    field = tube.field(settings)

    def forces(_, state):
        electric, magnetic, _ = (part[0] for part in fields_at(field, state[None, :3]))
        u = state[3:]
        gamma = math.sqrt(1 + u @ u / c**2)
        return np.concatenate([u, -e / m_e * (gamma * electric + np.cross(u, magnetic))])

    potential = fields_at(field, np.array([[0.0, 0.0, z]]))[2][0]
    k = e * (settings.accelerating_voltage + potential) / (m_e * c**2)
    u = c * math.sqrt(k * (k + 2))
    across = math.hypot(1, slope)
    start = [0, 0, z, u / across, u * slope / across, 0]
    return solve_ivp(
        forces, (0, span / u), start, method="DOP853", rtol=1e-11, atol=1e-13,
        max_step=0.002 / u, events=stop,
    )  # fmt: skip


def at_x(x):
    def passes(_, state):
        return state[0] - x

    passes.terminal = True
    return passes


def level(_, state):
    return state[4]


def sheet_z(tube, x):
    """The straight sheet's z at x, where the trace there is drawn from."""
    sheet = tube.bench.screen
    return sheet.z_from + (x - sheet.x_from) / (sheet.x_to - sheet.x_from) * (
        sheet.z_to - sheet.z_from
    )


def answers(tube, goal, **fixed):
    planned = plan_goal(tube, goal, fixed=fixed, answers=2)
    assert planned.answers, planned.refusal
    return planned.answers


@pytest.mark.parametrize(
    ("goal", "fixed"),
    [
        (PlateDeflection(0.09, 0.010), {"plate_tie": "symmetric"}),
        (PlateDeflection(0.1, -0.014), {"plate_tie": "lower at anode"}),
        (CoilDeflection(0.09, 0.012), {}),
    ],
)
def test_deflections_reach_the_height(deflection_tube, goal, fixed):
    for answer in answers(deflection_tube, goal, **fixed):
        z = sheet_z(deflection_tube, goal.x)
        path = flown(deflection_tube, answer.settings, z=z, stop=at_x(goal.x))
        height = path.y_events[0][0][1]
        assert goal.measure(deflection_tube, answer.settings)[0] == pytest.approx(height, abs=CLOSE)
        # The bundle, not one electron, is aimed at the height: they differ by the spread.
        assert height == pytest.approx(goal.height, abs=0.5 * goal.tolerance)


def test_nulls_stray_as_far_up_as_down(deflection_tube):
    goal = StraightBeam.for_bench(deflection_tube.bench)
    for answer in answers(deflection_tube, goal):
        z = sheet_z(deflection_tube, goal.length)
        path = flown(deflection_tube, answer.settings, z=z, stop=at_x(goal.length))
        seen = path.y[0] >= deflection_tube.bench.screen.x_from
        middle = (path.y[1][seen].max() + path.y[1][seen].min()) / 2
        measured = goal.measure(deflection_tube, answer.settings)[0]
        assert measured == pytest.approx(middle, abs=1e-5), "the integrator's steps are coarse"
        widest = answer.figures["trace width"][0]
        assert np.abs(path.y[1][seen]).max() < widest


def test_turn_backs_turn_where_they_are_said_to(deflection_tube):
    goal = TurnBack.for_bench(deflection_tube.bench)
    for answer in answers(deflection_tube, goal):
        far = deflection_tube.bench.plates.start + deflection_tube.bench.plates.length
        path = flown(
            deflection_tube, answer.settings, z=sheet_z(deflection_tube, far),
            stop=[at_x(far), level],
        )  # fmt: skip
        turns = [state for state in path.y_events[1] if abs(state[1]) > 1e-4]
        x, y = turns[0][:2]
        measured = goal.measure(deflection_tube, answer.settings)
        assert measured[1] == pytest.approx(abs(y), abs=CLOSE)
        assert measured[0] == pytest.approx(far / (2 * x), rel=1e-5)
        assert abs(y) == pytest.approx(goal.depth, rel=0.1)
        assert turns[0][3] > 0, "the beam flies forwards at the turning point, it does not stop"


def test_circles_have_their_diameter(fine_beam_bulb):
    goal = FullCircle.for_bench(fine_beam_bulb.bench)
    for answer in answers(fine_beam_bulb, goal):
        path = flown(fine_beam_bulb, answer.settings, stop=level, span=0.2)
        top = max(abs(state[1]) for state in path.y_events[0])
        measured = goal.measure(fine_beam_bulb, answer.settings)[0]
        assert measured == pytest.approx(top, abs=CLOSE)
        assert top == pytest.approx(goal.diameter, abs=0.5 * goal.tolerance)


@pytest.mark.parametrize("turns", [1, 2])
def test_rays_of_the_axial_coil_meet_on_the_face(axial_coil_tube, turns):
    goal = HelixFocus(turns, 0.0012)
    face = axial_coil_tube.bench.screen.x
    slope = math.tan(axial_coil_tube.bench.gun.divergence_vertical / 2)
    for answer in answers(axial_coil_tube, goal):
        path = flown(axial_coil_tube, answer.settings, slope=slope, stop=at_x(face))
        off = np.hypot(*path.y_events[0][0][1:3])
        furthest = np.hypot(path.y[1], path.y[2]).max()
        assert furthest > 0.8 * face * slope / (np.pi * turns)
        assert off < 0.03 * furthest
