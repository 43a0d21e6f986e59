"""The compiled tracer against scipy's integrators and against closed forms."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from glowtrace.beam.bundle import fly_electrons
from glowtrace.beam.obstacles import SCREEN, Rectangle, obstacles
from glowtrace.beam.source import emit, sequence_shifts
from glowtrace.bench.settings import Settings
from glowtrace.constants import REST_ENERGY_VOLTS, SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.fields.interpolation import Grid, fields_at, uniform_field

BOX = Grid((-0.3, -0.3, -0.3), (0.3, 0.3, 0.3), (4, 4, 4))
FACE = 0.1
"""x in m of the plane at which paths are compared."""


def proper_velocity(voltage: float) -> float:
    """u = gamma v of an electron accelerated through a voltage: m c^2 (gamma - 1) = e V."""
    k = voltage / REST_ENERGY_VOLTS
    return SPEED_OF_LIGHT * math.sqrt(k * (k + 2.0))


def slope(field):
    """The equation of motion in proper time, written again for scipy."""

    def derivative(_, state):
        E, B, _ = (part[0] for part in fields_at(field, state[None, :3]))
        u = state[3:]
        gamma = math.sqrt(1.0 + u @ u / SPEED_OF_LIGHT**2)
        return np.concatenate([u, -SPECIFIC_CHARGE * (gamma * E + np.cross(u, B))])

    return derivative


def at_face(_, state):
    return state[0] - FACE


at_face.terminal = True


def starts(tube, settings, count):
    field, source, states = tube.field(settings), tube.source(settings), np.zeros((count, 6))
    for n in range(count):
        emit(source, sequence_shifts(1), n, field, False, states[n])
    return field, states


@pytest.mark.parametrize(
    "settings",
    [
        Settings(accelerating_voltage=3000.0, plate_voltage=1200.0),
        Settings(accelerating_voltage=3000.0, coil_current=0.2, coil_reversed=True),
        Settings(
            accelerating_voltage=2500.0,
            plate_voltage=1500.0,
            plate_tie="lower at anode",
            coil_current=0.2,
            coil_reversed=True,
        ),
        Settings(accelerating_voltage=5000.0, plate_voltage=2000.0, plate_tie="upper at anode"),
    ],
)
def test_ends_of_traces_agree_with_an_independent_integrator(deflection_tube, settings):
    """scipy's DOP853 (Hairer, Norsett, Wanner) at rtol 1e-12 in the same field: within 0.1 um."""
    field, states = starts(deflection_tube, settings, 6)
    walls, _ = obstacles({}, Rectangle((FACE, 0, 0), (0, 0.2, 0), (0, 0, 0.2)), None)
    flights = fly_electrons(field, walls, states)
    assert (flights.ends == SCREEN).all()
    for start, end in zip(states, flights.states, strict=True):
        span = 3.0 * FACE / start[3]
        exact = solve_ivp(
            slope(field), (0, span), start, method="DOP853", rtol=1e-12, atol=1e-12,
            max_step=span / 100, events=at_face,
        )  # fmt: skip
        assert np.abs(end[:3] - exact.y_events[0][0][:3]).max() < 1e-7


def test_energy_is_kept_in_static_fields(deflection_tube):
    """Kinetic and potential energy together change by less than 1e-6 of the kinetic energy."""
    settings = Settings(
        accelerating_voltage=3000.0, plate_voltage=2000.0, plate_tie="lower at anode",
        coil_current=0.2, coil_reversed=True,
    )  # fmt: skip
    field, states = starts(deflection_tube, settings, 50)
    walls, _ = obstacles({}, Rectangle((FACE, 0, 0), (0, 0.2, 0), (0, 0, 0.2)), None)
    paths = fly_electrons(field, walls, states, stations=60, station_spacing=0.002).paths
    for path in paths:
        path = path[~np.isnan(path[:, 0])]
        assert len(path) > 20
        u2 = (path[:, 3:6] ** 2).sum(axis=1) / SPEED_OF_LIGHT**2
        kinetic = REST_ENERGY_VOLTS * u2 / (np.sqrt(1.0 + u2) + 1.0)
        energy = kinetic - fields_at(field, path[:, :3])[2]
        assert np.ptp(kinetic) > 100.0, "the plates must have changed the speed"
        assert np.ptp(energy) < 1e-6 * kinetic[0]


def test_reversed_electrons_fly_back_to_their_starts(deflection_tube):
    """Turning the velocity and the magnetic field round retraces the path."""
    forwards = Settings(accelerating_voltage=3000.0, plate_voltage=1500.0, coil_current=0.3)
    backwards = forwards.model_copy(update={"coil_reversed": True})
    field, states = starts(deflection_tube, forwards, 20)
    there, _ = obstacles({}, Rectangle((FACE, 0, 0), (0, 0.2, 0), (0, 0, 0.2)), None)
    back, _ = obstacles({}, Rectangle((0.01, 0, 0), (0, 0.2, 0), (0, 0, 0.2)), None)
    first = fly_electrons(field, back, states, tolerance=1e-10)
    second = fly_electrons(field, there, first.states, tolerance=1e-10)
    turned = second.states * np.array([1, 1, 1, -1, -1, -1])
    third = fly_electrons(deflection_tube.field(backwards), back, turned, tolerance=1e-10)
    assert (third.ends == SCREEN).all()
    assert np.abs(third.states[:, :3] - first.states[:, :3]).max() < 1e-7


def test_uniform_magnetic_field_bends_into_a_circle_of_the_relativistic_radius():
    """r = p / (e B): half a turn ends two radii above the start (closed form)."""
    B, u = 3.0e-3, proper_velocity(5000.0)
    radius = u / (SPECIFIC_CHARGE * B)
    field = uniform_field((0, 0, 0), (0, 0), (0, 0, B), BOX)
    wall, _ = obstacles({}, Rectangle((0, 2 * radius, 0), (0, 0.01, 0), (0, 0, 0.1)), None)
    flight = fly_electrons(field, wall, np.array([[0.0, 0, 0, u, 0, 0]]))
    assert flight.ends[0] == SCREEN
    assert flight.states[0, :3] == pytest.approx([0.0, 2 * radius, 0.0], abs=1e-7)
    assert flight.states[0, 3:] == pytest.approx([-u, 0.0, 0.0], abs=1e-5 * u)


def test_uniform_transverse_field_gives_the_textbook_parabola_and_straight_line():
    """Non-relativistic y = E L / (2 V) (L / 2 + D) / ... within the relativistic correction."""
    V, E, start, stop = 500.0, -2.0e4, 0.01, 0.05
    u = proper_velocity(V)
    field = uniform_field((0, E, 0), (start, stop), (0, 0, 0), BOX)
    wall, _ = obstacles({}, Rectangle((FACE, 0, 0), (0, 0.3, 0), (0, 0, 0.1)), None)
    flight = fly_electrons(field, wall, np.array([[0.0, 0, 0, u, 0, 0]]))
    length, beyond = stop - start, FACE - stop
    gamma = math.sqrt(1 + (u / SPEED_OF_LIGHT) ** 2)
    # Exact in the limit of small deflection: e E gamma / (m u^2) takes the place of E / (2 V).
    expected = SPECIFIC_CHARGE * -E * gamma / u**2 * length * (length / 2 + beyond)
    assert expected == pytest.approx(-E / (2 * V) * length * (length / 2 + beyond), rel=1e-3)
    assert flight.states[0, 1] == pytest.approx(expected, rel=2e-3)


def test_a_screen_exactly_at_the_edge_of_the_field_is_met():
    """Steps end on the edge of the ideal field, and a plane there must not be stepped over."""
    u = proper_velocity(1000.0)
    for edge in (0.03, 0.05, 0.09):
        field = uniform_field((0, -1e4, 0), (0.01, edge), (0, 0, 1e-4), BOX)
        wall, _ = obstacles({}, Rectangle((edge, 0, 0), (0, 0.3, 0), (0, 0, 0.1)), None)
        flight = fly_electrons(field, wall, np.array([[0.0, 0, 0, u, 0, 0]]))
        assert flight.ends[0] == SCREEN
        assert flight.states[0, 0] == pytest.approx(edge, abs=1e-12)


def test_crossed_uniform_fields_leave_the_beam_straight_at_the_null():
    """v = E / B (Wien's condition), exact in the relativistic case too."""
    u = proper_velocity(4000.0)
    v = u / math.sqrt(1 + (u / SPEED_OF_LIGHT) ** 2)
    B = 1.0e-3
    # B along +z pushes an electron that flies along +x upwards; E along +y pushes it down.
    field = uniform_field((0, v * B, 0), (-0.2, 0.2), (0, 0, B), BOX)
    wall, _ = obstacles({}, Rectangle((FACE, 0, 0), (0, 0.3, 0), (0, 0, 0.1)), None)
    flight = fly_electrons(field, wall, np.array([[0.0, 0, 0, u, 0, 0]]))
    assert abs(flight.states[0, 1]) < 1e-9


@pytest.mark.parametrize("share", [0.25, 0.5, 0.8])
def test_trochoid_has_the_depth_of_its_drift(share):
    """Depth 2 m (v0 - v_d) / (e B) for v_d = E / B, and 2 v_d - v0 at the lowest point.

    Loops, cusp and wave (v_d below, at and above v0 / 2); slow electrons, so the textbook's form
    holds to 1e-3. Chen, "Introduction to Plasma Physics", drift E x B.
    """
    u = proper_velocity(50.0)
    B = 2.0e-3
    drift = share * u
    # B along -z pushes down, E along -y pushes up.
    field = uniform_field((0, -drift * B, 0), (-0.2, 0.2), (0, 0, -B), BOX)
    wall, _ = obstacles({}, None, None)
    path = fly_electrons(
        field, wall, np.array([[0.0, 0, 0, u, 0, 0]]), stations=4000, station_spacing=2e-5,
        longest=0.08,
    ).paths[0]  # fmt: skip
    path = path[~np.isnan(path[:, 0])]
    lowest = np.argmin(path[:, 1])
    assert 0 < lowest < len(path) - 1
    assert -path[lowest, 1] == pytest.approx(2 * (u - drift) / (SPECIFIC_CHARGE * B), rel=1e-3)
    assert path[lowest, 3] == pytest.approx(2 * drift - u, abs=5e-3 * u)


def test_helix_comes_back_to_the_axis_after_one_turn():
    """Pitch 2 pi m v_parallel / (e B) for every small angle (Busch's focus), uniform B along x."""
    u, B = proper_velocity(500.0), 2.0e-3
    pitch = 2 * math.pi * u * math.cos(0.03) / (SPECIFIC_CHARGE * B)
    field = uniform_field((0, 0, 0), (0, 0), (B, 0, 0), BOX)
    wall, _ = obstacles({}, Rectangle((pitch, 0, 0), (0, 0.1, 0), (0, 0, 0.1)), None)
    turns = np.linspace(0, 2 * math.pi, 9)
    aside = u * math.sin(0.03)
    states = np.array(
        [[0, 0, 0, u * math.cos(0.03), aside * math.cos(a), aside * math.sin(a)] for a in turns]
    )
    flights = fly_electrons(field, wall, states)
    assert (flights.ends == SCREEN).all()
    assert np.abs(flights.states[:, 1:3]).max() < 1e-7
