"""Closed forms against published values, scipy's general solvers, and facts of the trade."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.constants import h
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from glowtrace.constants import ELECTRON_MASS, ELEMENTARY_CHARGE, SPECIFIC_CHARGE, SPEED_OF_LIGHT
from glowtrace.demos.circle import gyration_frequency, gyration_radius
from glowtrace.demos.helix import focus_flux_density, helix_pitch
from glowtrace.demos.kinematics import (
    lorentz_factor_from_voltage,
    momentum_from_voltage,
    speed_from_voltage,
)
from glowtrace.demos.null import drift_speed, force_ratio, null_flux_density, null_plate_voltage
from glowtrace.demos.parabola import height_beyond_plates, parabola_height, parabola_slope
from glowtrace.demos.trochoid import crossed_regime, trochoid
from glowtrace.demos.uniform_field import field_matrix, uniform_field_motion

ORIGIN = (0.0, 0.0, 0.0)
GAUSS = 1e-4


# ------------------------------------------------------------ relativistic electrons


@pytest.mark.parametrize(
    ("kilovolts", "nanometres"),
    [(40, 0.00601), (60, 0.00487), (80, 0.00418), (100, 0.00370), (200, 0.00251), (500, 0.00142)],
)
def test_wavelengths_of_a_microscopy_textbook(kilovolts: float, nanometres: float) -> None:
    # "Table 3.2" of a materials-characterisation textbook, read second-hand in a copy; h / p
    # checks the momentum. The row of 40 kV (0.006016) is cut off, not rounded.
    wavelength = h / momentum_from_voltage(1e3 * kilovolts)
    assert 1e9 * wavelength == pytest.approx(nanometres, abs=0.6e-5)


def test_wavelength_at_100_kv_of_course_notes() -> None:
    # EPFL course notes "Electrons properties" (exoset.epfl.ch): 3.70168 pm with constants rounded
    # to four figures, which is good for 1e-4
    assert h / momentum_from_voltage(100e3) == pytest.approx(3.70168e-12, rel=1e-4)


def test_electron_of_100_kv_as_remembered() -> None:
    # Williams and Carter, *Transmission Electron Microscopy*, table 1.2: from memory
    speed = speed_from_voltage(100e3)
    assert f"{speed / SPEED_OF_LIGHT:.3f}" == "0.548"
    assert f"{speed:.3e}" == "1.644e+08"
    assert f"{lorentz_factor_from_voltage(100e3):.3f}" == "1.196"


@pytest.mark.parametrize(
    ("kilovolts", "beta", "speed"),
    [
        (0.1, "0.019781", "0.5930099"),
        (1, "0.062470", "1.872790"),
        (2, "0.088216", "2.644653"),
        (3, "0.107885", "3.234302"),
        (4, "0.124393", "3.729216"),
        (5, "0.138874", "4.163338"),
        (10, "0.194986", "5.845521"),
        (20, "0.271866", "8.150335"),
        (100, "0.548221", "16.43525"),
        (200, "0.695314", "20.84500"),
        (300, "0.776525", "23.27965"),
    ],
)
def test_speeds_computed_elsewhere(kilovolts: float, beta: str, speed: str) -> None:
    # A separate computation with CODATA 2022, not a published table (none was found for 1-20 kV)
    found = speed_from_voltage(1e3 * kilovolts)
    assert f"{found / SPEED_OF_LIGHT:.6f}" == beta
    assert f"{found / 1e7:.7g}" == f"{float(speed):.7g}"


# ------------------------------------------------------------ Thomson 1897

THOMSON = [
    # theta, H in G, F in e.m.u. (1e-6 V/m), l in cm, printed m/e in g/e.m.u. and v in cm/s
    ("air 1", 8 / 110, 5.5, 1.5e10, 5, 1.3e-7, 2.8e9),
    ("air 2", 9.5 / 110, 5.4, 1.5e10, 5, 1.1e-7, 2.8e9),
    ("air 3", 13 / 110, 6.6, 1.5e10, 5, 1.2e-7, 2.3e9),
    ("hydrogen", 9 / 110, 6.3, 1.5e10, 5, 1.5e-7, 2.5e9),
    ("carbonic acid", 11 / 110, 6.9, 1.5e10, 5, 1.5e-7, 2.2e9),
    ("air 4", 6 / 110, 5.0, 1.8e10, 5, 1.3e-7, 3.6e9),
    ("air 5", 7 / 110, 3.6, 1.0e10, 5, 1.1e-7, 2.8e9),
]


@pytest.mark.parametrize(
    ("theta", "H", "F", "length", "mass_over_charge", "speed"),
    [row[1:] for row in THOMSON],
    ids=[row[0] for row in THOMSON],
)
def test_thomsons_table(
    theta: float, H: float, F: float, length: float, mass_over_charge: float, speed: float
) -> None:
    # J. J. Thomson, "Cathode Rays", Phil. Mag. 44 (1897) 293: the method was read (page 308, H
    # adjusted until both deflections are alike); the table (pages 309 and 310) could not be read,
    # its numbers are from memory: hence 6 % and 10 %.
    # The null gives the speed; the deflection by the plates alone then gives m/e.
    E, B = F * 1e-6, H * GAUSS
    found_speed = drift_speed(E, B)
    assert found_speed == pytest.approx(speed * 1e-2, rel=0.06)

    printed_ratio = 1 / (mass_over_charge * 1e-4)  # C/kg: 1 e.m.u. of charge is 10 C
    slope = parabola_slope(length * 1e-2, found_speed, -E, specific_charge=printed_ratio)
    assert slope == pytest.approx(theta, rel=0.10)


# ------------------------------------------------------------ crossed fields, drift, gyration


def test_cycloid_of_an_electron_from_rest() -> None:
    # "Conduction, Electric", Encyclopaedia Britannica, 11th edition, volume 6 (read second-hand):
    # along the force (E / w B)(1 - cos w t), across it (E / w B)(w t - sin w t), w = e B / m,
    # diameter of the generating circle 2 m E / (e B^2). Griffiths, *Introduction to
    # Electrodynamics*, example 5.2 has the same in SI.
    E, B = 10.0, 1e-3  # slow enough (1e4 m/s) for the classical formula
    w = SPECIFIC_CHARGE * B
    time = np.linspace(0, 4 * np.pi / w, 101)
    motion = uniform_field_motion([0, -E, 0], [0, 0, B], ORIGIN, ORIGIN, time)
    along, across = motion.position[:, 1], -motion.position[:, 0]
    size = E / (w * B)
    assert motion.time == pytest.approx(time, rel=1e-8)
    assert along == pytest.approx(size * (1 - np.cos(w * time)), abs=1e-6 * size)
    assert across == pytest.approx(size * (w * time - np.sin(w * time)), abs=1e-6 * size)
    assert along.max() == pytest.approx(2 * E / (SPECIFIC_CHARGE * B**2), rel=1e-6)


def test_drift_velocity() -> None:
    # v_E = E x B / B^2, whatever charge and mass: F. F. Chen, *Introduction to Plasma Physics*,
    # quoted in public notes. Exact in relativity for E across B and motion across B.
    E, B = np.array([3e4, -1e4, 2e4]), np.array([2e-3, 4e-3, -1e-3])
    E = E - B * (E @ B) / (B @ B)
    drift = np.cross(E, B) / (B @ B)
    turning = math.sqrt(B @ B - E @ E / SPEED_OF_LIGHT**2)
    for specific_charge in (SPECIFIC_CHARGE, 4.8e7):
        tau = 2 * np.pi / (specific_charge * turning)
        start = 2e7 * np.cross(B, [0.3, 0.5, 0.9]) / np.linalg.norm(B)
        motion = uniform_field_motion(E, B, ORIGIN, start, tau, specific_charge=specific_charge)
        assert motion.position[0] / motion.time[0] == pytest.approx(drift, rel=1e-10)


def test_gyration_frequency() -> None:
    # w = 1.76e7 B rad/s, B in gauss (read second-hand); f = 2.80e6 B Hz, *NRL Plasma Formulary*
    # (from memory)
    assert f"{gyration_frequency(GAUSS):.2e}" == "1.76e+07"
    assert f"{gyration_frequency(GAUSS) / (2 * np.pi):.2e}" == "2.80e+06"


def test_gyration_radius_of_a_beam() -> None:
    # r = sqrt(2) 2.38 sqrt(T) / B cm, T in eV, B in gauss: the formulary (from memory) has the
    # thermal speed sqrt(kT/m), a beam of that energy the sqrt(2) times larger one
    radius = gyration_radius(speed_from_voltage(100.0), 10 * GAUSS)
    assert 100 * radius == pytest.approx(math.sqrt(2) * 2.38 * math.sqrt(100.0) / 10, rel=3e-3)


SPEED = 5.0e5  # slow enough that the classical formulas hold to 1e-5


@pytest.mark.parametrize("drift_fraction", [-0.5, 0.1, 0.3, 0.7, 0.95, 1.4])
def test_trochoid_in_the_classical_limit(drift_fraction: float) -> None:
    # Standard result: drift E/B plus rotation at e B / m with the radius |v0 - v_d| / (e B / m);
    # hence depth 2 m (v0 - v_d) / (e B), pitch 2 pi m v_d / (e B), speed 2 v_d - v0 at the depth.
    B = -1e-4  # downwards at entry
    drift = drift_fraction * SPEED
    found = trochoid(SPEED, drift * B, B)
    w = ELEMENTARY_CHARGE * abs(B) / ELECTRON_MASS
    assert found.depth == pytest.approx(-2 * (SPEED - drift) / w, rel=3e-5)
    assert found.pitch == pytest.approx(2 * np.pi * drift / w, rel=3e-5)
    assert found.far_point_speed == pytest.approx(2 * drift - SPEED, rel=3e-5)
    assert found.period == pytest.approx(2 * np.pi / w, rel=3e-5)


def test_only_the_cusp_brings_the_electron_to_rest() -> None:
    # What really happens at the far point: only at v_d = v0/2 (classically) is there no velocity
    # and so no magnetic force. Same source as above.
    B = -1e-3
    for drift_fraction, regime in [(0.6, "forward trochoid"), (0.4, "looping trochoid")]:
        E = drift_fraction * 1e6 * B
        far_point_speed = trochoid(1e6, E, B).far_point_speed
        assert crossed_regime(1e6, E, B) == regime
        assert far_point_speed == pytest.approx((2 * drift_fraction - 1) * 1e6, rel=1e-4)
    assert crossed_regime(1e6, 0.5 * 1e6 * B, B, tolerance=1e-4) == "cusp"
    assert abs(trochoid(1e6, 0.5 * 1e6 * B, B).far_point_speed) < 1e-4 * 1e6


# ------------------------------------------------------------ plates and a screen behind them


def test_plate_deflection_to_a_screen() -> None:
    # y = (e E L / m v^2)(L/2 + D): the standard result for plates of length L and a screen D
    # behind them, in any introductory text; here with slow electrons
    L, D, E, speed = 0.05, 0.20, 10.0, 2e6
    classical = SPECIFIC_CHARGE * E * L / speed**2 * (L / 2 + D)
    assert height_beyond_plates(L + D, L, speed, -E) == pytest.approx(classical, rel=1e-4)


# ------------------------------------------------------------ scipy as the second opinion


def random_start(seed: int) -> tuple[NDArray[np.float64], ...]:
    generator = np.random.default_rng(seed)
    E, B, velocity = generator.normal(size=(3, 3))
    return 1e5 * E, 2e-3 * B, 4e7 * velocity


def check_against_matrix_exponential(
    E: NDArray[np.float64], B: NDArray[np.float64], velocity: NDArray[np.float64]
) -> None:
    """Compare with scipy.linalg.expm, which knows nothing of the eigenvalues that we use."""
    gamma = 1 / math.sqrt(1 - velocity @ velocity / SPEED_OF_LIGHT**2)
    start = gamma * np.array([SPEED_OF_LIGHT, *velocity])
    augmented = np.zeros((5, 5))
    augmented[:4, :4], augmented[:4, 4] = field_matrix(E, B), start
    for tau in (-1e-9, 1e-12, 1e-9, 2e-8):
        exponential = expm(tau * augmented)
        four_velocity, event = exponential[:4, :4] @ start, exponential[:4, 4]
        motion = uniform_field_motion(E, B, ORIGIN, velocity, tau)
        assert motion.time[0] == pytest.approx(event[0] / SPEED_OF_LIGHT, rel=1e-12)
        assert motion.position[0] == pytest.approx(event[1:], abs=1e-12)
        beta = four_velocity[1:] / four_velocity[0]
        assert motion.velocity[0] / SPEED_OF_LIGHT == pytest.approx(beta, abs=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_motion_against_the_matrix_exponential(seed: int) -> None:
    check_against_matrix_exponential(*random_start(seed))


@pytest.mark.parametrize("offset", [-1e-8, -1e-12, 0.0, 1e-12, 1e-8])
@pytest.mark.parametrize("size", [1e-9, 1e-3])
def test_motion_where_the_eigenvalues_meet(offset: float, size: float) -> None:
    # E = c B across each other has only the eigenvalue 0; so, nearly, have very weak fields.
    E = np.array([0, SPEED_OF_LIGHT * size * (1 + offset), 0])
    velocity = np.array([1e8, 2e7, -1e7])
    check_against_matrix_exponential(E, np.array([0, 0, size]), velocity)


@pytest.mark.parametrize("seed", range(4))
def test_motion_against_a_general_solver(seed: int) -> None:
    # The Lorentz force written out, integrated in laboratory time by scipy's DOP853: checks the
    # signs and the matrix as well
    E, B, velocity = random_start(seed)

    def slope(time: float, state: NDArray[np.float64]) -> NDArray[np.float64]:
        momentum = state[3:]
        gamma = math.sqrt(1 + momentum @ momentum / (ELECTRON_MASS * SPEED_OF_LIGHT) ** 2)
        speed = momentum / (gamma * ELECTRON_MASS)
        return np.concatenate([speed, -ELEMENTARY_CHARGE * (E + np.cross(speed, B))])

    motion = uniform_field_motion(E, B, ORIGIN, velocity, [1e-9, 5e-9])
    gamma = 1 / math.sqrt(1 - velocity @ velocity / SPEED_OF_LIGHT**2)
    start = np.concatenate([ORIGIN, gamma * ELECTRON_MASS * velocity])
    solution = solve_ivp(
        slope,
        (0, motion.time[-1]),
        start,
        method="DOP853",
        t_eval=motion.time,
        rtol=1e-12,
        atol=[1e-14] * 3 + [1e-14 * ELECTRON_MASS * SPEED_OF_LIGHT] * 3,
    )
    assert motion.position == pytest.approx(solution.y[:3].T, abs=1e-10)


# ------------------------------------------------------------ facts of the trade


def test_beam_bends_towards_the_positive_plate() -> None:
    # Common practice, no source. Upper plate positive: E_y = -V_p / d.
    assert parabola_height(0.08, speed_from_voltage(2e3), -500 / 0.05) > 0
    assert parabola_height(0.08, speed_from_voltage(2e3), +500 / 0.05) < 0


def test_plates_fed_from_the_accelerating_supply() -> None:
    # Common practice, no source: with V_p = V_a the deflection is x^2 / (4 d) at every voltage.
    # Relativity adds half of the growth of the mass, V / (2 V_0): 0.5 % at 5 kV.
    x, gap = 0.06, 0.10

    def residue(voltage: float) -> float:
        height = parabola_height(x, speed_from_voltage(voltage), -voltage / gap)
        return height / (x**2 / (4 * gap)) - 1

    for voltage in (500.0, 2e3, 5e3, 10e3):
        growth = lorentz_factor_from_voltage(voltage) - 1
        # The slope adds the part (x / d)^2 / 12 of it, here 3 %.
        assert residue(voltage) == pytest.approx(growth / 2, rel=0.05)
    assert residue(5e3) == pytest.approx(0.0050, abs=0.0001)


def test_more_coil_current_than_the_null_gives_dip_and_return() -> None:
    # Common practice, no source. Plates pull up, coils push down; beyond the null the beam dips,
    # turns and comes back to its own height, and with both polarities reversed it is mirrored.
    speed, E = speed_from_voltage(2e3), -2e4
    null = null_flux_density(speed, E)
    assert null < 0
    assert null_plate_voltage(speed, null, 0.05) == pytest.approx(1000.0)
    for excess in (1.2, 1.6, 3.0):
        dip = trochoid(speed, E, excess * null)
        assert force_ratio(speed, E, excess * null) == pytest.approx(1 / excess)
        assert dip.depth < 0
        path = dip.path(np.linspace(0, 2 * np.pi, 201))
        assert path.y.max() == pytest.approx(0, abs=1e-12)
        assert path.y[-1] == pytest.approx(0, abs=1e-12)
        assert path.x[-1] == pytest.approx(dip.pitch)
        assert trochoid(speed, -E, -excess * null).depth == pytest.approx(-dip.depth)
    # With less coil current than the null it rises instead.
    assert trochoid(speed, E, 0.8 * null).depth > 0


def test_equal_turns_focus_rays_of_all_small_angles() -> None:
    # Common practice, no source: all rays at small angles meet after whole turns, the twice as
    # strong field focuses in half the way, and wider rays meet a little earlier.
    speed = speed_from_voltage(500.0)
    B = focus_flux_density(speed, 0.20)
    for angle in (0.01, 0.05):
        assert helix_pitch(speed, angle, B) == pytest.approx(0.20 * math.cos(angle))
        velocity = speed * np.array([math.cos(angle), math.sin(angle), 0])
        tau = 2 * np.pi / (SPECIFIC_CHARGE * B)
        focus = uniform_field_motion(ORIGIN, [B, 0, 0], ORIGIN, velocity, tau).position[0]
        assert focus == pytest.approx([0.20 * math.cos(angle), 0, 0], abs=1e-12)
    assert focus_flux_density(speed, 0.20, turns=2) == pytest.approx(2 * B)
    assert focus_flux_density(speed, 0.10) == pytest.approx(2 * B)
