"""Worked problems of open textbooks, to the figures that they print.

Sources: UP2, UP3 = *University Physics* volumes 2 and 3, CP2e = *College Physics 2e* (OpenStax,
Rice University, CC BY-NC-SA 4.0), examples and chapter-end exercises as cited beside each test.
Only their numbers are used here. The books round e to 1.60e-19 C and m to 9.11e-31 kg (`BOOK`).
"""

import math
from decimal import Decimal

import numpy as np
import pytest
from scipy.constants import h, mu_0
from scipy.optimize import brentq

from glowtrace.bench.ideal import loop_flux_density
from glowtrace.demos.circle import gyration_frequency, gyration_radius
from glowtrace.demos.helix import helix_pitch, helix_radius
from glowtrace.demos.kinematics import (
    lorentz_factor,
    momentum_from_voltage,
    speed_from_voltage,
    voltage_from_speed,
)
from glowtrace.demos.null import drift_speed, null_flux_density, null_plate_voltage
from glowtrace.demos.uniform_field import uniform_field_motion

BOOK = 1.60e-19 / 9.11e-31
ALPHA = 3.2e-19 / 6.64e-27
PROTON = 1.602e-19 / 1.673e-27


def agrees(value: float, printed: str, *, units: float = 0.5) -> bool:
    """True if the value lies within half a unit (or as many as said) of the last printed figure."""
    exponent = Decimal(printed).as_tuple().exponent
    return bool(abs(value - float(printed)) <= 1.0000001 * units * 10.0 ** int(exponent))


def test_the_yardstick_of_this_file_can_fail() -> None:
    assert agrees(5.934e6, "5.93e6")
    assert not agrees(5.936e6, "5.93e6")
    assert not agrees(5.924e6, "5.93e6")


def test_electron_through_100_volts() -> None:
    # UP2 section 7.2, example 7.6
    assert agrees(speed_from_voltage(100.0, specific_charge=BOOK), "5.93e6")


@pytest.mark.parametrize(
    ("distance_cm", "printed"),
    [(0.10, "1.9e6"), (0.50, "4.2e6"), (1.0, "5.9e6"), (1.5, "7.3e6"), (2.0, "8.4e6")],
)
def test_electron_along_the_field_between_plates(distance_cm: float, printed: str) -> None:
    # UP2 section 7.6, exercise: 200 V over 2.0 cm, 4.0e5 m/s at the negative plate
    voltage = voltage_from_speed(4.0e5) + 200.0 * distance_cm / 2.0
    assert agrees(speed_from_voltage(voltage), printed)

    def fly(tau: float) -> tuple[float, float]:
        motion = uniform_field_motion([-1.0e4, 0, 0], [0, 0, 0], [0, 0, 0], [4.0e5, 0, 0], tau)
        return motion.position[0, 0], motion.velocity[0, 0]

    arrival = brentq(lambda tau: fly(tau)[0] - distance_cm / 100, 0.0, 1e-7, xtol=1e-18)
    assert agrees(fly(arrival)[1], printed)


def test_beam_deflector_for_alpha_particles() -> None:
    # UP2 section 11.3, example 11.2: 0.050 T, a quarter turn
    period = 2 * math.pi / gyration_frequency(0.050, specific_charge=ALPHA)
    assert agrees(period, "2.6e-6")
    assert agrees(period / 4, "6.5e-7")


def test_helix_whose_pitch_is_its_radius() -> None:
    # UP2 section 11.3, example 11.3: tan(angle) = 2 pi for a proton of 5e5 m/s in 1.0e-4 T
    def excess(angle: float) -> float:
        pitch = helix_pitch(5e5, angle, 1.0e-4, specific_charge=PROTON)
        return pitch - helix_radius(5e5, angle, 1.0e-4, specific_charge=PROTON)

    angle = brentq(excess, 0.1, 1.5)
    assert math.tan(angle) == pytest.approx(2 * math.pi)
    assert agrees(math.degrees(angle), "81.0")


def test_helix_of_a_proton_by_formula() -> None:
    # UP2 chapter 11, exercise: R = m v sin(theta) / (q B), p = (2 pi m / e B) v cos(theta)
    angle = math.radians(30)
    radius, pitch = (
        size(6e5, angle, 0.5, specific_charge=PROTON) for size in (helix_radius, helix_pitch)
    )
    slow = 1e-5  # the book's formulas leave out gamma, here 1 + 2e-6
    assert radius == pytest.approx(6e5 * 0.5 / (PROTON * 0.5), rel=slow)
    assert pitch == pytest.approx(2 * math.pi * 6e5 * math.sqrt(0.75) / (PROTON * 0.5), rel=slow)


def test_velocity_selector() -> None:
    # UP2 section 11.6, example 11.8: 2.0 mT, 6.0e3 N/C; the acceleration without B, the circle
    # without E
    speed = drift_speed(6.0e3, 2.0e-3)
    assert agrees(speed, "3e6")
    push = uniform_field_motion([0, -6.0e3, 0], [0, 0, 0], [0, 0, 0], [speed, 0, 0], 1e-12)
    assert agrees(push.velocity[0, 1] / push.time[0], "1.1e15")
    assert agrees(gyration_radius(speed, 2.0e-3, specific_charge=BOOK), "8.5e-3")


def test_specific_charge_from_selector_and_circle() -> None:
    # UP2 section 11.6, exercise: 1.0e4 N/C and 0.250 T, then a circle of 3.33 mm
    speed = drift_speed(1.0e4, 0.250)
    found = brentq(
        lambda ratio: gyration_radius(speed, 0.250, specific_charge=ratio) - 3.33e-3, 1e6, 1e9
    )
    assert agrees(found, "4.8e7")


def test_electron_of_2000_ev_through_crossed_fields() -> None:
    # UP2 chapter 11, exercise: 300 V over 1.0 cm; the book's speed is non-relativistic, which
    # changes 1.131 to 1.134 and not the printed figures
    assert agrees(null_flux_density(speed_from_voltage(2000.0), 300.0 / 0.010), "1.13e-3")


def test_undeflected_electron_in_oblique_fields() -> None:
    # UP2 chapter 11, exercise. The book prints E = (1.6, -1.4, -1.1)e5 V/m; that is +v x B, while
    # no force needs E = -v x B: its sign is a slip. The magnitudes hold.
    velocity = np.array([4.0, 3.0, 2.0]) * 1e6
    B = np.array([1.0, -2.0, 4.0]) * 1e-2
    E = -np.cross(velocity, B)
    printed = np.array([1.6, -1.4, -1.1]) * 1e5
    assert all(agrees(-E[i], text) for i, text in enumerate(["1.6e5", "-1.4e5", "-1.1e5"]))

    straight = uniform_field_motion(E, B, [0, 0, 0], velocity, 1e-8)
    assert straight.velocity[0] == pytest.approx(velocity, rel=1e-9)
    bent = uniform_field_motion(printed, B, [0, 0, 0], velocity, 1e-9)
    assert np.linalg.norm(bent.velocity[0] - velocity) > 0.5 * np.linalg.norm(velocity)


def test_mass_spectrometer() -> None:
    # UP2 chapter 11, exercise: m = q B^2 x^2 / (8 V), x the diameter of the half circle
    voltage, B = 1000.0, 0.2
    speed = speed_from_voltage(voltage, specific_charge=ALPHA)
    x = 2 * gyration_radius(speed, B, specific_charge=ALPHA)
    assert B**2 * x**2 / (8 * voltage) == pytest.approx(1 / ALPHA, rel=1e-6)


def test_cyclotron_for_alpha_particles() -> None:
    # UP2 section 11.7, example 11.10: 1.8 T, radius 0.50 m. The period comes out as 7.24e-8 s
    # with the book's own data: its last figure is one too high.
    period = 2 * math.pi / gyration_frequency(1.8, specific_charge=ALPHA)
    assert agrees(period, "7.3e-8", units=1.0)
    voltage = brentq(
        lambda volts: (
            gyration_radius(
                speed_from_voltage(volts, specific_charge=ALPHA), 1.8, specific_charge=ALPHA
            )
            - 0.50
        ),
        1e6,
        1e8,
    )
    assert agrees(3.2e-19 * voltage, "6.2e-12")
    assert agrees(2 * voltage / 1e6, "39")  # MeV of a charge of 2 e


def test_opposed_loops_on_their_axis() -> None:
    # UP2 section 12.4, example 12.5: 10 mA, radii 0.50 m at 0.25 m and 1.00 m at 0.75 m. (The
    # caption of the book's figure calls this field zero; its result is right.)
    field = 10e-3 * (loop_flux_density(0.50, 0.25) - loop_flux_density(1.00, 0.75))
    assert agrees(field, "5.77e-9")


def test_pair_at_the_distance_of_its_radius() -> None:
    # B = (4/5)^(3/2) mu_0 N I / R = 0.715542 mu_0 N I / R: Purcell, *Electricity and Magnetism*,
    # Jackson; the digits from a copy of an encyclopedia
    assert agrees(2 * loop_flux_density(0.15, 0.075) * 0.15 / mu_0, "0.715542")


def test_field_of_the_pair_is_flat_at_its_centre() -> None:
    # UP2 chapter 12, exercise: first and second derivative vanish half-way between the loops
    def field(z: float) -> float:
        return loop_flux_density(1.0, 0.5 + z) + loop_flux_density(1.0, 0.5 - z)

    step = 0.02
    curvature = (field(step) - 2 * field(0) + field(-step)) / step**2
    assert (field(step) - field(-step)) / (2 * step) == pytest.approx(0, abs=1e-20)
    assert abs(curvature) < 1e-3 * field(0)
    wider = loop_flux_density(1.0, 0.6 + step) + loop_flux_density(1.0, 0.6 - step)
    assert abs(wider - 2 * loop_flux_density(1.0, 0.6)) / step**2 > 0.1 * field(0)


def test_electron_before_a_magnet_at_the_screen() -> None:
    # CP2e section 22.5, example 22.2: 6.00e7 m/s in 0.500 T. The book leaves out that gamma is
    # 1.0207 at this speed: the true circle is 2 % larger.
    radius = gyration_radius(6.00e7, 0.500, specific_charge=BOOK)
    assert agrees(radius / lorentz_factor(6.00e7), "6.83e-4")
    assert not agrees(radius, "6.83e-4")
    # The book calls this "about 10.0 kV".
    assert voltage_from_speed(6.00e7) == pytest.approx(10.0e3, rel=0.06)


def test_cosmic_ray_electron() -> None:
    # CP2e section 22.5, exercise
    assert agrees(gyration_radius(7.50e6, 1.00e-5, specific_charge=BOOK), "4.27")


def test_compensation_of_the_earths_field() -> None:
    # CP2e section 22.5, exercise: 6.00e7 m/s, 5.00e-5 T, plates 1.00 cm apart
    voltage = abs(null_plate_voltage(6.00e7, 5.00e-5, 0.0100))
    assert agrees(voltage, "30.0")
    assert agrees(voltage / 0.0100, "3.00e3")


def test_electrons_in_a_double_slit() -> None:
    # UP3 section 6.6, example 6.15: 600 V, slits 272 nm apart. The angle comes out as 0.0105
    # degrees: the book cuts it off.
    wavelength = h / momentum_from_voltage(600.0)
    assert agrees(wavelength, "0.050e-9")
    assert agrees(math.degrees(math.asin(wavelength / 272e-9)), "0.010", units=1.0)
