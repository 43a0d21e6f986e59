"""Electrodes: meshes, selection by name, awkward points, and what is refused."""

import math

import numpy as np
import pytest

from glowtrace.errors import FieldMapError
from glowtrace.fields.convergence import estimate_error, extrapolate, refine_capacitance
from glowtrace.fields.electrodes import Conductor, solve_unit_potentials
from glowtrace.fields.panels import cosine_nodes, disc_panels, rectangle_panels


def areas(panels):
    crossed = np.cross(panels[:, 2] - panels[:, 0], panels[:, 3] - panels[:, 1])
    return np.linalg.norm(crossed, axis=1) / 2


def plate(name="plate", height=0.0, count=6):
    return Conductor(name, rectangle_panels((0, height, 0), (1, 0, 0), (0, 0, 1), count, count))


def test_nodes_crowd_at_both_ends():
    nodes = cosine_nodes(10)
    steps = np.diff(nodes)
    assert nodes[[0, 5, -1]] == pytest.approx([0.0, 0.5, 1.0])
    assert steps[0] == pytest.approx(steps[-1])
    assert steps[0] < steps[4] / 5


def test_rectangle_is_covered_and_middles_are_close_to_the_edges():
    panels = rectangle_panels((1, 2, 3), (4, 0, 0), (0, 3, 0), 7, 5)
    assert panels.shape == (35, 5, 3)
    assert areas(panels).sum() == pytest.approx(12.0)
    assert panels[..., 0].min() == pytest.approx(-1.0)
    assert panels[..., 0].max() == pytest.approx(3.0)
    # beside an edge the middle is a quarter of the panel's width away from it
    first = panels[0]
    assert first[4, 0] - first[:4, 0].min() == pytest.approx(np.ptp(first[:4, 0]) / 4, rel=0.05)


@pytest.mark.parametrize(
    ("height", "width", "shape", "hole"),
    [
        (0.001, 0.010, "slit", 1e-5),
        (0.010, 0.001, "slit", 1e-5),
        (0.006, 0.006, "slit", 3.6e-5),
        (0.002, 0.002, "round", math.pi * 1e-6),
        (0.0, 0.0, "slit", 0.0),
    ],
)
def test_disc_has_its_area_and_its_hole(height, width, shape, hole):
    panels = disc_panels(
        (0.3, 0.1, -0.2), 0.02, height, width, shape, count_radial=6, count_quarter=5
    )
    assert len(panels) == 4 * 6 * 5
    assert areas(panels).sum() == pytest.approx(math.pi * 0.02**2 - hole, rel=1e-12)
    assert (areas(panels) > 0).all()
    assert np.abs(panels[..., 0] - 0.3).max() < 1e-15
    y, z = np.abs(panels[..., 1] - 0.1), np.abs(panels[..., 2] + 0.2)
    assert np.hypot(y, z).max() == pytest.approx(0.02, rel=0.03)
    if shape == "slit" and hole:
        assert not ((y < 0.4999 * height) & (z < 0.4999 * width)).any()
        corner = (np.abs(y - height / 2) < 1e-12) & (np.abs(z - width / 2) < 1e-12)
        assert corner.any()


def test_slit_upright_and_lying_are_the_same_mesh_turned():
    lying = disc_panels((0, 0, 0), 0.02, 0.001, 0.01)
    upright = disc_panels((0, 0, 0), 0.02, 0.01, 0.001)
    by_area = [np.sort(areas(each)) for each in (lying, upright)]
    assert by_area[0] == pytest.approx(by_area[1])
    assert np.ptp(lying[np.argmin(areas(lying))], axis=0) == pytest.approx(
        np.ptp(upright[np.argmin(areas(upright))], axis=0)[[0, 2, 1]]
    )


def test_electrodes_are_picked_by_name_in_the_order_asked_for():
    solution = solve_unit_potentials([plate("a"), plate("b", 0.5), plate("c", 1.0)])
    points = [(0.1, 0.2, 0.3), (2.0, 2.0, 2.0)]
    everything = solution.potential(points)
    assert everything.shape == (3, 2)
    assert np.array_equal(solution.potential(points, ["c", "a"]), everything[[2, 0]])
    fields = solution.electric_field(points)
    assert fields.shape == (3, 2, 3)
    assert np.array_equal(solution.electric_field(points, ["b"]), fields[[1]])
    with pytest.raises(FieldMapError, match=r"No electrode named 'd'.*'a', 'b', 'c'"):
        solution.potential(points, ["d"])


def test_order_and_number_of_points_do_not_matter():
    solution = solve_unit_potentials([plate("a"), plate("b", 0.5)])
    points = np.random.default_rng(2).uniform(-2, 2, (150, 3))
    together = solution.potential(points)
    alone = np.concatenate([solution.potential(points[i : i + 1]) for i in range(150)], axis=1)
    assert together == pytest.approx(alone, rel=1e-12)
    assert solution.potential(np.empty((0, 3))).shape == (2, 0)
    assert solution.electric_field(np.empty((0, 3))).shape == (2, 0, 3)


def test_corners_edges_and_middles_of_panels_give_finite_numbers():
    round_plate = Conductor("round", disc_panels((0, 0, 0), 1.0, count_radial=3, count_quarter=2))
    for conductor in (plate(), round_plate):
        solution = solve_unit_potentials([conductor])
        corners = conductor.panels[:, :4]
        edges = (corners + np.roll(corners, 1, axis=1)) / 2
        points = np.concatenate([conductor.panels, edges], axis=1).reshape(-1, 3)
        potential, field = solution.potential(points), solution.electric_field(points)
        assert np.isfinite(field).all()
        assert ((potential > 0.5) & (potential < 1.2)).all()


def test_normal_field_jumps_by_the_charge_through_a_sheet():
    """Gauss's law: the jump is charge density over epsilon_0; on the sheet, the mean of both."""
    from scipy.constants import epsilon_0

    solution = solve_unit_potentials([plate()])
    middles = solution.panels[:, 4]
    above, on, below = (
        solution.electric_field(middles + np.array([0, h, 0]))[0, :, 1] for h in (1e-9, 0.0, -1e-9)
    )
    assert above - below == pytest.approx(solution.charges[0] / epsilon_0, rel=1e-6)
    assert on == pytest.approx((above + below) / 2, abs=1e-6)


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda: rectangle_panels((0, 0, 0), (1, 0, 0), (2, 0, 0), 3, 3), "no area"),
        (lambda: rectangle_panels((0, 0, 0), (1, 0, 0), (0, 1, 0), 0, 3), "count_u.*0 panels"),
        (lambda: disc_panels((0, 0, 0), 0.0), "more than 0 m"),
        (lambda: disc_panels((0, 0, 0), 0.02, 0.001, 0.0), "both"),
        (lambda: disc_panels((0, 0, 0), 0.02, 0.05, 0.001), "does not fit.*0.02 m"),
        (lambda: disc_panels((0, 0, 0), 0.02, 0.002, 0.001, "round"), "one diameter"),
        (lambda: solve_unit_potentials([]), "at least one"),
        (lambda: solve_unit_potentials([plate(), plate()]), "a name of its own"),
        (lambda: solve_unit_potentials([plate("a"), plate("b")]), "no unique solution"),
        (lambda: solve_unit_potentials([Conductor("a", np.zeros((3, 4, 3)))]), r"\(n, 5, 3\)"),
        (lambda: solve_unit_potentials([Conductor("a", np.zeros((3, 5, 3)))]), "has no area"),
        (lambda: solve_unit_potentials([plate()]).potential((0, 0, 0)), r"\(g, 3\)"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(build, words):
    with pytest.raises(FieldMapError, match=words):
        build()


def test_bent_panels_are_refused():
    panels = plate().panels.copy()
    panels[4, 2, 1] += 0.01
    with pytest.raises(FieldMapError, match="Panel 4 is not flat"):
        solve_unit_potentials([Conductor("bent", panels)])


def test_two_solutions_must_be_for_the_same_electrodes_and_differ_in_fineness():
    coarse, fine = (solve_unit_potentials([plate(count=count)]) for count in (4, 6))
    other = solve_unit_potentials([plate("other", count=6)])
    with pytest.raises(FieldMapError, match="different electrodes"):
        refine_capacitance(coarse, other)
    with pytest.raises(FieldMapError, match=r"at least 1\.2 times"):
        estimate_error(fine, coarse, [(0, 1, 0)])
    errors = estimate_error(coarse, fine, [(0, 1, 0), (0, 2, 0)])
    assert errors.potential.shape == errors.field.shape == (1, 2)


def test_extrapolation_of_an_error_that_falls_as_one_over_the_number_of_panels():
    estimate = extrapolate(3.0 + 1 / 100, 3.0 + 1 / 400, 4.0)
    assert estimate.value == pytest.approx(3.0)
    assert estimate.uncertainty == pytest.approx(1 / 400)
