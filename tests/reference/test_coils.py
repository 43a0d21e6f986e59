"""Fields of loops and windings against closed forms, tables and a magnetostatics library."""

import numpy as np
import pytest
from scipy import constants
from scipy.special import ellipe, ellipk

from glowtrace.fields.coils import (
    Winding,
    long_coil_winding,
    loop_field,
    pair_windings,
    winding_field,
)

MU = constants.mu_0


@pytest.mark.parametrize(
    ("rho", "z", "axial", "radial"),
    [
        (0.5, 0.0, 1.245620610, 0.0),
        (0.5, 0.5, 0.691663340, 0.257336170),
        (0.1, 0.5, 0.715510559, 0.043276429),
        (2.0, 1.0, -0.010043146, 0.064334042),
    ],
)
def test_loop_table(rho, z, axial, radial):
    """B in units of the field in the loop's middle; COMPUTED in the check list to nine figures."""
    b_rho, b_z = loop_field(1.0, rho, z)
    assert b_z / (MU / 2) == pytest.approx(axial, abs=6e-10)
    assert b_rho / (MU / 2) == pytest.approx(radial, abs=6e-10)


def textbook_loop(radius, rho, z):
    """Elliptic integrals as in Simpson, Lane, Immer, Youngquist, NASA, NTRS 20010038494 (2001)."""
    outer, inner = (radius + rho) ** 2 + z**2, (radius - rho) ** 2 + z**2
    K, E = ellipk(4 * radius * rho / outer), ellipe(4 * radius * rho / outer)
    front = MU / (2 * np.pi * np.sqrt(outer))
    b_z = front * (K + (radius**2 - rho**2 - z**2) / inner * E)
    b_rho = front * z / rho * ((radius**2 + rho**2 + z**2) / inner * E - K)
    return b_rho, b_z


def test_loop_against_elliptic_integrals_of_scipy():
    rng = np.random.default_rng(3)
    rho, z = rng.uniform(0.02, 0.6, 500), rng.uniform(-0.5, 0.5, 500)
    found, expected = np.array(loop_field(0.2, rho, z)), np.array(textbook_loop(0.2, rho, z))
    size = np.linalg.norm(expected, axis=0)
    assert (np.abs(found - expected) / size).max() < 1e-11


@pytest.mark.parametrize("rho", [1e-3, 1e-6, 1e-9, 1e-12])
def test_radial_field_keeps_its_digits_near_the_axis(rho):
    """Free of divergence: B_rho = -rho/2 dB_z/dz + rho^3/16 d^3B_z/dz^3 on the axis.

    Ortner, Leitner, Slanovc, Magnetism 3 (2023) 11 warn that the textbook form fails here.
    """
    a, z = 0.15, 0.07
    s = a**2 + z**2
    first = -3 * MU * a**2 * z / (2 * s**2.5)
    third = MU * a**2 / 2 * (45 * z / s**3.5 - 105 * z**3 / s**4.5)
    b_rho, _ = loop_field(a, rho, z)
    assert b_rho == pytest.approx(-rho / 2 * first + rho**3 / 16 * third, rel=1e-8)


def test_field_on_the_axis_of_a_loop():
    """mu0 I a^2 / (2 (a^2 + z^2)^(3/2)), in any text."""
    z = np.linspace(-0.5, 0.5, 11)
    b_rho, b_z = loop_field(0.15, 0.0, z)
    assert b_z == pytest.approx(MU * 0.15**2 / 2 / (0.15**2 + z**2) ** 1.5, rel=1e-14)
    assert (b_rho == 0.0).all()


def test_dipole_far_away():
    """A loop's far field is that of a dipole of moment pi a^2 (any text), to (a/r)^2."""
    for angle in (0.3, 1.2, np.pi / 2):
        r = 300.0
        b_rho, b_z = loop_field(0.1, r * np.sin(angle), r * np.cos(angle))
        dipole = MU * np.pi * 0.01 / (4 * np.pi * r**3)
        assert b_z == pytest.approx(dipole * (3 * np.cos(angle) ** 2 - 1), rel=1e-6)
        expected = dipole * 3 * np.sin(angle) * np.cos(angle)
        assert b_rho == pytest.approx(expected, rel=1e-6, abs=1e-6 * dipole)


def test_middle_of_a_helmholtz_pair():
    """(4/5)^(3/2) mu0 N I / R (Purcell, Jackson)."""
    pair = pair_windings(0.15, 130, 0.0, 0.0, 0.15, centre=(0.1, 0, 0))
    b = winding_field(pair, [(0.1, 0, 0)])[0]
    assert b == pytest.approx([0, 0, 0.8**1.5 * MU * 130 / 0.15], rel=1e-13, abs=1e-18)


@pytest.mark.parametrize(
    ("distance", "on_axis", "sideways"),
    [
        (0.05, -7.18e-6, -2.71e-6),
        (0.10, -1.139e-4, -4.36e-5),
        (0.20, -1.763e-3, -7.17e-4),
        (0.25, -4.198e-3, -1.785e-3),
        (0.30, -8.440e-3, -3.793e-3),
        (0.40, -2.462e-2, -1.272e-2),
        (0.50, -5.418e-2, -3.337e-2),
    ],
)
def test_deviation_in_a_helmholtz_pair(distance, on_axis, sideways):
    """Relative to the middle, thin coils; COMPUTED table of the check list (R = 1)."""
    pair = pair_windings(1.0, 1, 0.0, 0.0, 1.0)
    middle, along, across = winding_field(pair, [(0, 0, 0), (0, 0, distance), (0, distance, 0)])
    half_a_unit = 0.51 * 10.0 ** np.floor(np.log10(np.abs([on_axis, sideways])) - 2)
    assert abs(along[2] / middle[2] - 1 - on_axis) < half_a_unit[0]
    assert abs(across[2] / middle[2] - 1 - sideways) < half_a_unit[1]


def test_axis_of_a_solenoid():
    """mu0 n I (cos theta_1 + cos theta_2) / 2 for a thin long coil, in any text."""
    coil = long_coil_winding(0.03, 1000, -0.05, 0.25, 0.0)
    x = np.array([-0.2, -0.05, 0.0, 0.1, 0.25, 0.6])
    points = np.stack([x, 0 * x, 0 * x], axis=1)
    cosines = (x + 0.05) / np.hypot(x + 0.05, 0.03) - (x - 0.25) / np.hypot(x - 0.25, 0.03)
    field = winding_field([coil], points)
    assert field[:, 0] == pytest.approx(MU * 1000 / 0.3 * cosines / 2, rel=1e-12)
    assert np.abs(field[:, 1:]).max() == 0.0


THICK = Winding((0.01, -0.02, 0.03), (0.6, 0.0, 0.8), 0.15, 0.02, 0.03, 130)
LONG = long_coil_winding(0.03, -800, -0.05, 0.25, 0.006, shift_y=0.002)


@pytest.mark.parametrize("winding", [THICK, LONG])
def test_finite_section_against_magpylib(winding):
    """magpylib's magnetised cylinders are current sheets; 24 of them fill the depth.

    General-purpose library, M. Ortner, L. G. Coliado Bandeira, SoftwareX 11 (2020) 100466.
    """
    magpylib = pytest.importorskip("magpylib", reason="magpylib is a development dependency")
    from scipy.spatial.transform import Rotation

    nodes, weights = np.polynomial.legendre.leggauss(24)
    radii = winding.mean_radius + winding.radial_depth / 2 * nodes
    turn = Rotation.align_vectors([winding.axis], [(0, 0, 1)])[0]
    sheets = [
        magpylib.magnet.Cylinder(
            polarization=(0, 0, MU * winding.turns * weight / 2 / winding.axial_length),
            dimension=(2 * radius, winding.axial_length),
            position=winding.centre,
            orientation=turn,
        )
        for radius, weight in zip(radii, weights, strict=True)
    ]
    points = np.random.default_rng(8).uniform(-0.3, 0.3, (400, 3))
    offsets = points - np.array(winding.centre)
    along = offsets @ np.array(winding.axis)
    rho = np.linalg.norm(offsets - along[:, None] * np.array(winding.axis), axis=1)
    outside = (np.abs(rho - winding.mean_radius) > 0.6 * winding.radial_depth) | (
        np.abs(along) > 0.6 * winding.axial_length
    )
    # inside a magnet B is mu0 (H + M), which is the field of its surface current
    theirs = np.sum([sheet.getB(points[outside]) for sheet in sheets], axis=0)
    ours = winding_field([winding], points[outside])
    assert outside.sum() > 300
    size = np.linalg.norm(theirs, axis=1)
    assert (np.linalg.norm(ours - theirs, axis=1) / size).max() < 1e-6


def test_loop_against_magpylib():
    magpylib = pytest.importorskip("magpylib", reason="magpylib is a development dependency")
    points = np.random.default_rng(5).uniform(-0.4, 0.4, (300, 3))
    theirs = magpylib.current.Circle(current=1, diameter=0.3).getB(points)
    ours = winding_field([Winding((0, 0, 0), (0, 0, 1), 0.15, 0.0, 0.0, 1)], points)
    size = np.linalg.norm(theirs, axis=1, keepdims=True)
    assert (np.abs(ours - theirs) / size).max() < 1e-8


def test_number_of_sheets_is_enough():
    """The rule across the depth against one with many more sheets, down to just off the winding."""
    thin = [
        Winding(THICK.centre, THICK.axis, radius, THICK.axial_length, 0.0, THICK.turns * weight / 2)
        for radius, weight in zip(
            THICK.mean_radius + THICK.radial_depth / 2 * np.polynomial.legendre.leggauss(400)[0],
            np.polynomial.legendre.leggauss(400)[1],
            strict=True,
        )
    ]
    axis, across = np.array(THICK.axis), np.array([0.8, 0.0, -0.6])
    inwards = np.array([[0.1 * THICK.mean_radius], [0.12], [0.13], [0.1340]])
    points = (
        np.array(THICK.centre) + inwards * across + np.array([[0.0], [0.004], [0.0], [0.0]]) * axis
    )
    ours, many = winding_field([THICK], points), winding_field(thin, points)
    errors = np.linalg.norm(ours - many, axis=1) / np.linalg.norm(many, axis=1)
    assert (errors < [1e-8, 1e-8, 1e-8, 1e-5]).all()
