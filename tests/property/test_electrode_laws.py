"""Laws of electrostatics that every set of electrodes must keep."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from glowtrace.fields.charged_panels import fill_influence
from glowtrace.fields.electrodes import Conductor, solve_unit_potentials
from glowtrace.fields.panel_table import panel_table
from glowtrace.fields.panels import disc_panels, rectangle_panels

few = settings(max_examples=5)
volts = st.floats(-5000.0, 5000.0)
place = st.tuples(st.floats(-0.02, 0.12), st.floats(-0.018, 0.018), st.floats(-0.03, 0.03))


def bench(tilt=0.0, scale=1.0, height=1.0e-3, width=1.0e-2):
    edge = scale * 0.1 * np.array([np.cos(tilt), np.sin(tilt), 0.0])
    across = scale * np.array([0, 0, 0.06])
    upper, lower = (scale * np.array([0.05, y, 0.0]) for y in (0.025, -0.025))
    face = disc_panels(
        (-0.01 * scale, 0, 0), 0.02 * scale, height * scale, width * scale,
        count_radial=6, count_quarter=6,
    )  # fmt: skip
    return [
        Conductor("upper", rectangle_panels(upper, edge, across, 12, 8)),
        Conductor("lower", rectangle_panels(lower, edge * [1, -1, 1], across, 12, 8)),
        Conductor("anode", face),
    ]


@pytest.fixture(scope="module")
def solution():
    return solve_unit_potentials(bench())


@few
@given(voltages=st.tuples(volts, volts, volts), point=place)
def test_superposition(solution, voltages, point):
    """Charges for any voltages solve the same equations as those for 1 V each."""
    wanted = np.array(voltages)
    middles = solution.panels[:, 4]
    influence = np.empty((len(middles), len(middles)))
    fill_influence(solution.table, np.ascontiguousarray(middles), influence)
    direct = np.linalg.solve(influence, wanted[solution.owners])
    seen = np.empty((1, len(middles)))
    fill_influence(solution.table, np.array([point]), seen)
    expected = (seen @ direct).item()
    assert wanted @ solution.potential([point])[:, 0] == pytest.approx(
        expected, abs=2e-6 * np.abs(wanted).max() + 1e-12
    )


@few
@given(point=place)
def test_mirror_images(solution, point):
    """Upper and lower plate are mirror images in y = 0, and everything is one in z = 0."""
    x, y, z = point
    here, below, behind = solution.potential([(x, y, z), (x, -y, z), (x, y, -z)]).T
    assert here[[1, 0, 2]] == pytest.approx(below, abs=1e-9)
    assert here == pytest.approx(behind, abs=1e-9)
    field = solution.electric_field([(x, y, z), (x, -y, z)])
    assert field[0, 0] == pytest.approx(field[1, 1] * [1, -1, 1], abs=1e-7)


@few
@given(tilt=st.floats(-0.15, 0.15), height=st.floats(5e-4, 8e-3), width=st.floats(5e-4, 8e-3))
def test_each_conductor_is_at_its_potential(tilt, height, width):
    """1 V on one, 0 V on the others, at points between those where it was asked for."""
    conductors = bench(tilt, height=height, width=width)
    found = solve_unit_potentials(conductors)
    for k, conductor in enumerate(conductors):
        centroids = conductor.panels[:, :4].mean(axis=1)
        expected = np.zeros(3)
        expected[k] = 1.0
        off = found.potential(centroids) - expected[:, None]
        assert np.sqrt((off**2).mean()) < 0.03
        assert np.abs(off[:, ::7].mean(axis=1)).max() < 0.03


@few
@given(point=place)
def test_field_is_minus_the_gradient_of_the_potential(solution, point):
    step = 1e-5
    steps = np.concatenate([step * np.eye(3), -step * np.eye(3)])
    values = solution.potential(np.array(point) + steps)
    slopes = (values[:, :3] - values[:, 3:]) / (2 * step)
    assert solution.electric_field([point])[:, 0] == pytest.approx(-slopes, abs=0.1, rel=2e-3)


@few
@given(tilt=st.floats(-0.15, 0.15), scale=st.floats(1e-3, 1e3))
def test_capacitance(tilt, scale):
    """Symmetric, positive for itself and negative for others, proportional to size (any text)."""
    small = solve_unit_potentials(bench(tilt)).capacitance
    large = solve_unit_potentials(bench(tilt, scale)).capacitance
    assert large == pytest.approx(scale * small, rel=1e-9)
    assert small == pytest.approx(small.T, rel=3e-3)
    assert (np.diag(small) > 0).all()
    assert (small - np.diag(np.diag(small)) <= 0).all()
    assert (small.sum(axis=1) > 0).all()


@few
@given(
    angles=st.tuples(*[st.floats(-3, 3)] * 3),
    shift=st.tuples(*[st.floats(-1, 1)] * 3),
    point=place,
)
def test_moving_everything_changes_nothing(solution, angles, shift, point):
    from scipy.spatial.transform import Rotation

    turn = Rotation.from_euler("xyz", angles)

    def move(points):
        return turn.apply(points.reshape(-1, 3)).reshape(points.shape) + shift

    moved = solve_unit_potentials([Conductor(c.name, move(c.panels)) for c in bench()])
    there = move(np.array([point]))
    assert moved.potential(there) == pytest.approx(solution.potential([point]), abs=1e-6)
    field = turn.apply(solution.electric_field([point])[:, 0])
    assert moved.electric_field(there)[:, 0] == pytest.approx(field, abs=1e-3)


@pytest.fixture(scope="module")
def box():
    axes = np.eye(3)
    faces = [
        rectangle_panels(side * axes[i] / 2, axes[i - 2], axes[i - 1], 8, 8)
        for i in range(3)
        for side in (-1, 1)
    ]
    return solve_unit_potentials([Conductor("box", np.concatenate(faces))])


@few
@given(point=st.tuples(*[st.floats(-0.3, 0.3)] * 3))
def test_no_field_in_a_closed_box(box, point):
    """Faraday's cage: the potential inside a closed conductor is its own everywhere."""
    assert box.potential([point]).item() == pytest.approx(1.0, abs=5e-4)
    assert np.abs(box.electric_field([point])).max() < 5e-4


@few
@given(
    direction=st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1),
    distance=st.floats(0.5, 60.0),
    stretch=st.floats(0.1, 1.0),
)
def test_far_and_middle_ranges_agree_with_the_exact_integral(direction, distance, stretch):
    """The three formulas of `charged_panels` meet: one panel seen from near and far."""
    panels = rectangle_panels((0, 0, 0), (1, 0, 0), (0, stretch, 0), 1, 1)
    lone = solve_unit_potentials([Conductor("panel", panels)])
    point = distance * np.array(direction) / np.linalg.norm(direction)
    exact = np.empty((1, 1))
    fill_influence(panel_table(panels), point[None], exact)
    scale = np.empty((1, 1))
    fill_influence(panel_table(panels), np.ascontiguousarray(panels[:, 4]), scale)
    assert lone.potential([point]) == pytest.approx(exact / scale, rel=3e-5)
