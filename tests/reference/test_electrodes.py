"""The surface-charge solver against published capacitances, exact fields and other programs.

Status words as in the list of check values: MEMORY means that the number is quoted from memory.
"""

import numpy as np
import pytest
from scipy import constants, integrate

from glowtrace.fields.charged_panels import fill_influence
from glowtrace.fields.convergence import estimate_error, extrapolate, refine_capacitance
from glowtrace.fields.electrodes import Conductor, solve_unit_potentials
from glowtrace.fields.panel_table import panel_table
from glowtrace.fields.panels import disc_panels, rectangle_panels

EPSILON = constants.epsilon_0
UNIT = 4 * np.pi * EPSILON


def square_plate(count, height=0.0, name="plate"):
    return Conductor(name, rectangle_panels((0, 0, height), (1, 0, 0), (0, 1, 0), count, count))


def cube(count):
    axes = np.eye(3)
    faces = [
        rectangle_panels(side * axes[i] / 2, axes[i - 2], axes[i - 1], count, count)
        for i in range(3)
        for side in (-1, 1)
    ]
    return Conductor("cube", np.concatenate(faces))


def disc(count, x=0.0, name="disc"):
    return Conductor(name, disc_panels((x, 0, 0), 1.0, count_radial=count, count_quarter=count))


def between_terminals(capacitance):
    """Charge for each volt between two conductors that carry opposite charges."""
    (a, b), (_, d) = capacitance
    return (a * d - b * b) / (a + 2 * b + d)


def refined(build, coarse, fine):
    return refine_capacitance(*(solve_unit_potentials([build(count)]) for count in (coarse, fine)))


def test_square_plate():
    """0.36679 x 4 pi eps0 a: MEMORY, commonly quoted; 5e-6 is half a unit of its last figure."""
    estimate = refined(square_plate, 16, 24)
    value, uncertainty = estimate.value[0, 0] / UNIT, estimate.uncertainty[0, 0] / UNIT
    assert value == pytest.approx(0.36679, rel=2e-5)
    assert abs(value - 0.36679) <= uncertainty + 5e-6
    assert uncertainty < 2e-4 * value


def test_cube():
    """0.6606782(1): Hwang, Mascagni, J. Appl. Phys. 95 (2004) 3798, abstract (as quoted)."""
    estimate = refined(cube, 8, 14)
    value, uncertainty = estimate.value[0, 0] / UNIT, estimate.uncertainty[0, 0] / UNIT
    assert value == pytest.approx(0.6606782, rel=1e-4)
    assert abs(value - 0.6606782) <= uncertainty
    assert uncertainty < 5e-4 * value


def test_circular_disc():
    """8 eps0 R, exact (Maxwell; MEMORY)."""
    estimate = refined(disc, 8, 12)
    assert estimate.value[0, 0] == pytest.approx(8 * EPSILON, rel=2e-5)
    assert abs(estimate.value[0, 0] - 8 * EPSILON) <= estimate.uncertainty[0, 0]


@pytest.mark.parametrize(
    "build", [square_plate, cube, pytest.param(disc, marks=pytest.mark.thorough)]
)
def test_error_falls_as_the_number_of_panels_to_a_power_of_at_least_one(build):
    """What `extrapolate` relies on: doubling the panels at least halves the steps that are left."""
    sizes = (8, 16) if build is cube else (12, 24)
    limit = refined(build, *sizes).value[0, 0]
    errors = [
        abs(solve_unit_potentials([build(count)]).capacitance[0, 0] - limit) for count in sizes
    ]
    assert errors[1] < errors[0] / 3.2  # four times the panels


def loves_capacitance(distance):
    """Two coaxial discs of radius 1 m: E. R. Love, QJMAM 2 (1949) 428 (MEMORY), by Gauss's rule."""
    s, w = np.polynomial.legendre.leggauss(600)
    kernel = distance / np.pi / (distance**2 + (s[:, None] - s) ** 2)
    f = np.linalg.solve(np.eye(len(s)) - kernel * w, np.ones(len(s)))
    return 2 * EPSILON * (w @ f)


@pytest.mark.parametrize(
    ("distance", "precision"),
    [
        (1.0, 1e-4),
        *(pytest.param(*each, marks=pytest.mark.thorough) for each in ((0.5, 2e-4), (2.0, 1e-4))),
    ],
)
def test_coaxial_discs(distance, precision):
    coarse, fine = (
        solve_unit_potentials(
            [disc(count, 0.0, "left"), disc(count, distance, "right")]
        ).capacitance
        for count in (8, 12)
    )
    estimate = extrapolate(between_terminals(coarse), between_terminals(fine), 12**2 / 8**2)
    exact = loves_capacitance(distance)
    assert estimate.value == pytest.approx(exact, rel=precision)
    assert abs(estimate.value - exact) <= estimate.uncertainty


@pytest.mark.parametrize(
    ("distance", "ratio"), [(0.1, 1.304), (0.2, 1.551), (0.5, 2.235), (1.0, 3.342)]
)
def test_square_plate_pair(distance, ratio):
    """C / (eps0 a^2 / d), COMPUTED low-order extrapolation of the check list, good to 0.5 %."""
    plates = [square_plate(20, 0.0, "lower"), square_plate(20, distance, "upper")]
    found = between_terminals(solve_unit_potentials(plates).capacitance) * distance / EPSILON
    assert found == pytest.approx(ratio, rel=5e-3)
    # Nishiyama, Nakamura, IEEE Trans. CPMT-A 17 (1994) 411 (formula MEMORY), agrees to 1.3 %
    assert found == pytest.approx(1 + 2.343 * distance**0.891, rel=1.3e-2)


def test_potential_and_field_around_a_disc():
    """Oblate spheroidal solution of a disc at 1 V, in any text on potential theory (MEMORY)."""
    x, rho = np.meshgrid([0.02, 0.2, 1.0, 4.0], [0.0, 0.3, 0.7, 1.5, 3.0])
    points = np.stack([x, rho, 0 * x], axis=-1).reshape(-1, 3)
    foci = np.hypot(rho - 1, x) + np.hypot(rho + 1, x)
    exact = 2 / np.pi * np.arcsin(2 / foci).ravel()
    solution = solve_unit_potentials([disc(16)])
    assert np.abs(solution.potential(points)[0] - exact).max() < 6e-4
    on_axis = np.array([[0.3, 0, 0], [1.0, 0, 0], [3.0, 0, 0]])
    field = solution.electric_field(on_axis)[0, :, 0]
    assert field == pytest.approx(2 / np.pi / (1 + on_axis[:, 0] ** 2), rel=1e-3)


def test_uniformly_charged_rectangle():
    """One panel against a double integral by scipy, and against the closed form at its middle."""
    panels = rectangle_panels((0, 0, 0), (1, 0, 0), (0, 1, 0), 1, 1)
    points = np.array([[0, 0, 0], [0.5, 0.5, 0], [0.1, -0.3, 0.2], [0.9, 0.2, -0.1], [0.4, 2, 3]])
    found = np.empty((len(points), 1))
    fill_influence(panel_table(panels), points, found)
    middle = 4 * np.log(1 + np.sqrt(2))
    assert found[:2, 0] == pytest.approx([middle, middle / 2], rel=1e-13)
    for (x, y, z), value in zip(points[2:], found[2:, 0], strict=True):
        expected, _ = integrate.dblquad(
            lambda v, u, x=x, y=y, z=z: 1 / np.sqrt((x - u) ** 2 + (y - v) ** 2 + z**2),
            -0.5, 0.5, -0.5, 0.5,
        )  # fmt: skip
        assert value == pytest.approx(expected, rel=1e-7)


def deflection_plates(fineness):
    """Free-standing plates and a gun's face, as the check list has them (anode = infinity)."""
    edges = [(0.1, 0, 0), (0, 0, 0.06)]
    counts = (2 * fineness, round(1.4 * fineness))
    return [
        Conductor("upper", rectangle_panels((0.05, 0.025, 0), *edges, *counts)),
        Conductor("lower", rectangle_panels((0.05, -0.025, 0), *edges, *counts)),
        Conductor(
            "anode",
            disc_panels(
                (-0.01, 0, 0), 0.02, 0.001, 0.01,
                count_radial=fineness, count_quarter=round(0.8 * fineness),
            ),
        ),
    ]  # fmt: skip


AXIS = np.array([-5, 0, 5, 10, 20, 30, 50, 70, 80, 90, 100]) * 1e-3
FIELD = [0.281, 0.520, 0.697, 0.815, 0.930, 0.966, 0.9785, 0.970, 0.946, 0.875, 0.718]
POTENTIAL = [0.099, 0.188, 0.261, 0.318, 0.391, 0.429, 0.456, 0.454, 0.443, 0.422, 0.388]


@pytest.fixture(scope="module")
def plates():
    return solve_unit_potentials(deflection_plates(12))


@pytest.fixture(scope="module")
def axis():
    return np.stack([AXIS, 0 * AXIS, 0 * AXIS], axis=1)


def test_field_on_the_axis_of_deflection_plates(plates, axis):
    """E_y d / V, COMPUTED: an own reference run with 3,830 panels of another mesh."""
    upper, lower, _ = plates.electric_field(axis)[:, :, 1]
    assert (lower - upper) / 2 * 0.05 == pytest.approx(FIELD, rel=5e-3)


def test_potential_on_the_axis_with_one_plate_at_the_anode(plates, axis):
    """The same reference run; the middle of the gap stands at nearly half the plate voltage."""
    assert plates.potential(axis, ["upper"])[0] == pytest.approx(POTENTIAL, rel=5e-3)
    both = plates.potential(axis, ["upper", "lower"])
    assert np.abs(both[0] - both[1]).max() < 1e-12


@pytest.mark.thorough
def test_stated_error_covers_the_step_to_a_much_finer_mesh(plates):
    """1,200 panels against 4,800 where a beam goes: the largest error of each electrode."""
    x, y, z = np.meshgrid(AXIS, [-0.01, 0.0, 0.01], [0.0, 0.01])
    points = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    coarse, finest = (solve_unit_potentials(deflection_plates(count)) for count in (8, 24))
    stated = estimate_error(coarse, plates, points)
    field = finest.electric_field(points)
    found = np.linalg.norm(plates.electric_field(points) - field, axis=2)
    found /= np.linalg.norm(field, axis=2).max(axis=1, keepdims=True)
    assert (found.max(axis=1) <= stated.field.max(axis=1)).all()
    assert (stated.field.max(axis=1) < 2e-3).all()
    shift = np.abs(plates.potential(points) - finest.potential(points))
    assert (shift.max(axis=1) <= stated.potential.max(axis=1)).all()
    assert (stated.potential.max(axis=1) < 5e-4).all()


@pytest.mark.thorough  # the package compiles itself for a minute
def test_second_opinion_of_a_boundary_element_package(plates, axis):
    """bempp-cl: a Galerkin solution with triangles; ours has points on quadrilaterals."""
    bempp = pytest.importorskip("bempp_cl.api", reason="bempp-cl is a development dependency")
    bempp.DEFAULT_DEVICE_INTERFACE = "numba"
    panels = [conductor.panels for conductor in deflection_plates(6)]
    triangles = [np.concatenate([each[:, (0, 1, 2)], each[:, (0, 2, 3)]]) for each in panels]
    owner = np.repeat([0, 1, 2], [len(each) for each in triangles])
    # shared corners must be one vertex, so that the package knows which triangles touch
    vertices, elements = np.unique(
        np.round(np.concatenate(triangles).reshape(-1, 3), 9), axis=0, return_inverse=True
    )
    grid = bempp.Grid(vertices.T, elements.reshape(-1, 3).T, owner)
    space = bempp.function_space(grid, "DP", 0)
    matrix = (
        bempp.operators.boundary.laplace.single_layer(space, space, space).weak_form().to_dense()
    )
    charges = np.linalg.solve(matrix, grid.volumes * (owner == 0))
    # Simpson's rule on triangles: the middles of the edges, a third of the area each
    corners = vertices[elements.reshape(-1, 3)]
    middles = (corners + np.roll(corners, 1, axis=1)) / 2
    distances = np.linalg.norm(axis[:, None, None] - middles, axis=-1)
    theirs = (1 / distances).mean(axis=2) @ (charges * grid.volumes) / (4 * np.pi)
    assert plates.potential(axis, ["upper"])[0] == pytest.approx(theirs, abs=3e-3)
