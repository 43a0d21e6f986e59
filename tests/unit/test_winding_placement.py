"""Windings: placement of pairs and long coils, points in the wire, and what is refused."""

import numpy as np
import pytest

from glowtrace.errors import FieldMapError
from glowtrace.fields.coils import (
    Winding,
    long_coil_winding,
    loop_field,
    pair_windings,
    winding_field,
)

COIL = Winding((0.1, 0, 0), (0, 0, 1), 0.15, 0.02, 0.03, 100)


def test_positive_current_gives_a_field_along_the_axis():
    pair = pair_windings(0.15, 130, 0.02, 0.02, 0.15, centre=(0.1, 0, 0))
    assert pair[0].centre == pytest.approx((0.1, 0, -0.075))
    assert pair[1].centre == pytest.approx((0.1, 0, 0.075))
    b = winding_field(pair, [(0.1, 0, 0)])[0]
    assert b[2] > 7e-4
    assert np.abs(b[:2]).max() < 1e-18
    along_x = winding_field([long_coil_winding(0.03, 500, 0, 0.2, 0.004)], [(0.1, 0, 0)])[0]
    assert along_x[0] > 2e-3


@pytest.mark.parametrize(
    ("tilt_x", "tilt_y", "axis"),
    [
        (0.0, 0.0, (0, 0, 1)),
        (np.pi / 2, 0.0, (0, -1, 0)),
        (0.0, np.pi / 2, (1, 0, 0)),
        (np.pi / 2, np.pi / 2, (0, -1, 0)),
    ],
)
def test_tilt_turns_about_x_and_then_about_y(tilt_x, tilt_y, axis):
    pair = pair_windings(0.1, 10, 0.01, 0.01, 0.1, tilt_x=tilt_x, tilt_y=tilt_y)
    assert pair[0].axis == pytest.approx(axis, abs=1e-15)
    assert np.subtract(pair[1].centre, pair[0].centre) == pytest.approx(
        0.1 * np.array(axis), abs=1e-15
    )


def test_opposing_pair_has_no_field_in_its_middle():
    pair = pair_windings(0.15, 130, 0.02, 0.02, 0.15, aiding=False)
    assert [coil.turns for coil in pair] == [-130, 130]
    assert np.abs(winding_field(pair, [(0, 0, 0)])).max() < 1e-18


def test_long_coil_is_placed_by_its_ends():
    coil = long_coil_winding(0.03, 500, -0.1, 0.3, 0.004, shift_y=0.01, shift_z=-0.02)
    assert coil.centre == pytest.approx((0.1, 0.01, -0.02))
    assert coil.axial_length == pytest.approx(0.4)


def test_loop_field_takes_the_shapes_of_its_arguments():
    b_rho, b_z = loop_field(0.1, np.zeros((3, 1)), np.linspace(-1, 1, 4))
    assert b_rho.shape == b_z.shape == (3, 4)
    assert b_z == pytest.approx(np.broadcast_to(b_z[0], (3, 4)))


def test_points_beside_the_ends_of_a_sheet_are_finite_and_continuous():
    """A grid may hit the radius of a current sheet exactly, beyond its ends."""
    sheet = Winding((0, 0, 0), (0, 0, 1), 0.15, 0.02, 0.0, 100)
    z = 0.03
    points = [(0.15 + offset, 0, z) for offset in (-1e-9, 0.0, 1e-9)]
    low, at, high = winding_field([sheet], points)
    assert at == pytest.approx((low + high) / 2, rel=1e-6)


def test_no_windings_and_no_points():
    assert np.array_equal(winding_field([], [(0, 0, 0)]), np.zeros((1, 3)))
    assert winding_field([COIL], np.empty((0, 3))).shape == (0, 3)


@pytest.mark.parametrize("point", [(0.25, 0, 0), (0.1, -0.14, 0.009), (0.1, 0.1651 - 2e-4, -0.01)])
def test_points_in_the_winding_are_refused(point):
    with pytest.raises(FieldMapError, match=r"inside the winding.*0\.15 m"):
        winding_field([COIL], [(0.1, 0, 0), point])


def test_points_on_a_loop_are_refused():
    with pytest.raises(FieldMapError, match="inside the winding"):
        loop_field(0.1, [0.05, 0.1], 0.0)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"axis": (0, 0, 2)}, "length 1"),
        ({"mean_radius": 0.0}, "more than 0 m"),
        ({"mean_radius": float("nan")}, "more than 0 m"),
        ({"axial_length": -0.1}, "not be negative"),
        ({"radial_depth": 0.4}, r"between 0 and twice.*0\.3 m"),
    ],
)
def test_impossible_windings_are_refused(changes, words):
    fields = {
        "centre": (0, 0, 0), "axis": (0, 0, 1), "mean_radius": 0.15,
        "axial_length": 0.02, "radial_depth": 0.02, "turns": 100,
    }  # fmt: skip
    with pytest.raises(FieldMapError, match=words):
        Winding(**(fields | changes))


def test_points_of_the_wrong_shape_are_refused():
    with pytest.raises(FieldMapError, match=r"\(g, 3\)"):
        winding_field([COIL], [0.0, 0.0, 0.0])
