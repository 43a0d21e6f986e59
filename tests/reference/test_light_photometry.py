"""Photometric constants and tables against what is published of them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import constants

from glowtrace.light.photometry import (
    K_CD,
    K_MAX,
    band_efficacy,
    black_body_efficacy,
    black_body_luminance,
    luminous_efficiency,
    spectral_radiance,
)


def test_candela_by_its_definition():
    # 683 lm/W at 540 THz, exact (BIPM, photometry page; 26th CGPM; IEV 112-02-10). In air the
    # wavelength is shorter than in vacuum by the index 1.00028 (from memory).
    wavelength_in_air = constants.speed_of_light / 540e12 / 1.00028
    assert K_CD == 683.0
    efficacy = K_MAX * float(luminous_efficiency(wavelength_in_air))
    assert efficacy == pytest.approx(683.0, rel=0.006)  # steps of 10 nm: V(555 nm) is 1
    assert abs(K_MAX - 683.002) < 1e-3  # Km for V(lambda), read in a copy


def test_platinum_at_its_freezing_point():
    # Until 1979 the candela was a sixtieth of a square centimetre of a black body at the freezing
    # point of platinum: 600 000 cd/m² (9th CGPM, 1948; from memory), 2041.4 K by ITS-90
    # (secondary point, from memory; a kelvin more makes it 0.6 % brighter).
    assert black_body_luminance(2041.4) == pytest.approx(6.0e5, rel=0.02)


def test_best_efficacy_of_a_black_body():
    # About 95 lm/W at about 6600 K (from memory).
    temperatures = np.arange(5000.0, 9000.0, 100.0)
    efficacies = [black_body_efficacy(t) for t in temperatures]
    assert max(efficacies) == pytest.approx(95.0, rel=0.01)
    assert temperatures[int(np.argmax(efficacies))] == pytest.approx(6600.0, abs=200.0)


def test_area_under_the_sensitivity_of_the_eye():
    # 106.857 nm (from memory).
    wavelengths = np.linspace(380e-9, 780e-9, 4001)
    area = np.trapezoid(luminous_efficiency(wavelengths), wavelengths)
    assert area == pytest.approx(106.857e-9, rel=0.005)


def test_planck_gives_stefan_and_wien():
    temperature = 1100.0
    wavelengths = np.geomspace(2e-7, 2e-3, 200_001)
    radiance = spectral_radiance(wavelengths, temperature)
    exitance = np.pi * np.trapezoid(radiance, wavelengths)
    assert exitance == pytest.approx(constants.Stefan_Boltzmann * temperature**4, rel=1e-4)
    peak = wavelengths[int(np.argmax(radiance))]
    assert peak * temperature == pytest.approx(constants.Wien, rel=1e-3)


def test_narrow_bands():
    # A band much narrower than V(lambda) has its efficacy there: V(510 nm) = 0.503,
    # V(610 nm) = 0.503 (CIE table, from memory; the two are equal by chance).
    for peak in (510e-9, 610e-9):
        assert band_efficacy(peak, 1e-9) == pytest.approx(0.503 * 683.0, rel=0.01)
    # The usual green phosphor at 525 nm: between V(520) = 0.710 and V(530) = 0.862.
    assert 0.710 * 683.0 < band_efficacy(525e-9, 20e-9) < 0.862 * 683.0
    # A flat spectrum over what is seen tends to the area under V over its breadth.
    assert band_efficacy(560e-9, 20e-9) > band_efficacy(560e-9, 200e-9)


def test_efficiency_is_none_outside_its_table():
    assert luminous_efficiency(np.array([300e-9, 900e-9])).tolist() == [0.0, 0.0]
    assert float(luminous_efficiency(555e-9)) == pytest.approx(1.0, abs=0.006)
