"""Laws of magnetostatics that every winding must keep."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants
from scipy.spatial.transform import Rotation

from glowtrace.fields.coils import Winding, long_coil_winding, pair_windings, winding_field

few = settings(max_examples=12)
inside = st.tuples(*[st.floats(-0.06, 0.06)] * 3)
angle = st.floats(-np.pi, np.pi)


@few
@given(point=inside, tilt_x=angle, tilt_y=angle)
def test_no_divergence_and_no_curl_in_free_space(point, tilt_x, tilt_y):
    pair = pair_windings(0.15, 130, 0.02, 0.02, 0.15, tilt_x=tilt_x, tilt_y=tilt_y)
    step = 1e-4
    steps = step * np.concatenate([np.eye(3), -np.eye(3)])
    field = winding_field(pair, np.array(point) + steps)
    slopes = (field[:3] - field[3:]) / (2 * step)
    scale = np.linalg.norm(field, axis=1).max() / 0.15
    assert np.abs(np.trace(slopes)) < 1e-5 * scale
    assert np.abs(slopes - slopes.T).max() < 1e-5 * scale


@few
@given(
    radius=st.floats(0.01, 0.14),
    length=st.floats(0.0, 0.2),
    turns=st.floats(-1000, 1000),
    shift=st.floats(-0.02, 0.02),
)
def test_amperes_law_along_the_axis(radius, length, turns, shift):
    """The line integral of B from far to far through a coil is mu0 N I (any text)."""
    coil = Winding((0, 0, shift), (0, 0, 1), radius, length, 0.1 * radius, turns)
    # z = tan(t): the whole axis in a finite interval; Gauss's rule in two halves
    nodes, weights = np.polynomial.legendre.leggauss(400)
    t = np.concatenate([(nodes - 1), (nodes + 1)]) * np.pi / 4
    z = shift + np.tan(t) * max(radius, length)
    stretch = max(radius, length) / np.cos(t) ** 2 * np.tile(weights, 2) * np.pi / 4
    field = winding_field([coil], np.stack([0 * z, 0 * z, z], axis=1))
    assert field[:, 2] @ stretch == pytest.approx(constants.mu_0 * turns, rel=1e-6, abs=1e-15)


@few
@given(point=inside, angles=st.tuples(angle, angle, angle))
def test_turning_coil_and_point_turns_the_field(point, angles):
    turn = Rotation.from_euler("xyz", angles)
    plain = Winding((0.0, 0.0, 0.02), (0.0, 0.0, 1.0), 0.15, 0.02, 0.01, 100)
    turned = Winding(
        tuple(turn.apply(plain.centre)), tuple(turn.apply(plain.axis)), 0.15, 0.02, 0.01, 100
    )
    expected = turn.apply(winding_field([plain], [point]))
    assert winding_field([turned], turn.apply([point])) == pytest.approx(expected, abs=1e-15)


@few
@given(point=inside)
def test_pair_is_the_sum_of_its_coils(point):
    """Aiding and opposing pairs differ in the first coil; an aiding pair mirrors itself."""
    aiding = pair_windings(0.15, 130, 0.02, 0.02, 0.15)
    opposing = pair_windings(0.15, 130, 0.02, 0.02, 0.15, aiding=False)
    tail, tip = (winding_field([coil], [point]) for coil in aiding)
    assert winding_field(aiding, [point]) == pytest.approx(tail + tip, abs=1e-18)
    assert winding_field(opposing, [point]) == pytest.approx(tip - tail, abs=1e-18)
    mirrored = np.array(point) * [1, 1, -1]
    assert winding_field(aiding, [mirrored]) == pytest.approx(
        winding_field(aiding, [point]) * [-1, -1, 1], abs=1e-15
    )


@few
@given(point=st.tuples(st.floats(-0.02, 0.2), *[st.floats(-0.015, 0.015)] * 2))
def test_long_coil_is_the_sum_of_its_halves(point):
    whole = long_coil_winding(0.03, 900, -0.05, 0.25, 0.004)
    halves = [
        long_coil_winding(0.03, 300, -0.05, 0.05, 0.004),
        long_coil_winding(0.03, 600, 0.05, 0.25, 0.004),
    ]
    assert winding_field([whole], [point]) == pytest.approx(
        winding_field(halves, [point]), rel=1e-7, abs=1e-10
    )
