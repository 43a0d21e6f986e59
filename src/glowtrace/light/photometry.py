"""From watts to lumens: the eye's sensitivity, and light of narrow bands and of hot bodies.

Symbols: V(lambda) is the luminous efficiency for photopic vision, K = 683.002 lm/W its factor at
the peak (683 lm/W exactly at 540 THz: definition of the candela, 26th CGPM; BIPM).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.constants import BOLTZMANN, PLANCK, SPEED_OF_LIGHT

Array = NDArray[np.float64]

K_CD: Final = 683.0
"""lm/W at 540 THz, exact: the constant that defines the candela."""
K_MAX: Final = K_CD / 0.999_997
"""lm/W at the peak of V(lambda), 555 nm in air: 683.002; V at 540 THz is from memory."""

# V(lambda) of 1924 from 380 nm to 780 nm in steps of 10 nm: ISO/CIE 23539, written from memory;
# tests/reference/test_light_photometry.py holds it against what was published of black bodies.
_FIRST, _LAST, _STEP = 380e-9, 780e-9, 10e-9
_TABLE: Final = np.array([
    3.9e-5, 1.2e-4, 3.96e-4, 1.21e-3, 4.0e-3, 0.0116, 0.023, 0.038, 0.060, 0.09098,
    0.13902, 0.20802, 0.323, 0.503, 0.710, 0.862, 0.954, 0.99495, 0.995, 0.952,
    0.870, 0.757, 0.631, 0.503, 0.381, 0.265, 0.175, 0.107, 0.061, 0.032,
    0.017, 8.21e-3, 4.102e-3, 2.091e-3, 1.047e-3, 5.2e-4, 2.492e-4, 1.2e-4, 6.0e-5, 3.0e-5,
    1.499e-5,
])  # fmt: skip
_FINE: Final = np.linspace(_FIRST, _LAST, 401)
_FWHM_OF_SIGMA: Final = 2.0 * np.sqrt(2.0 * np.log(2.0))


def luminous_efficiency(wavelength: Array | float) -> Array:
    """Give V(lambda), between 0 and 1, of wavelengths in m; 0 outside 380 nm to 780 nm.

    Between the 10 nm steps the logarithm is taken straight, which follows both tails.
    """
    grid = np.linspace(_FIRST, _LAST, len(_TABLE))
    given = np.asarray(wavelength, dtype=float)
    inside = (given >= _FIRST) & (given <= _LAST)
    return np.where(inside, np.exp(np.interp(given, grid, np.log(_TABLE))), 0.0)


def band_efficacy(peak: float, breadth: float) -> float:
    """Luminous efficacy in lm/W of a band of light with the shape of a Gaussian.

    Parameters
    ----------
    peak, breadth
        Wavelength of the peak, and full width at half of it, in m.
    """
    sigma = breadth / _FWHM_OF_SIGMA
    wavelengths = np.linspace(peak - 5.0 * sigma, peak + 5.0 * sigma, 801)
    power = np.exp(-0.5 * ((wavelengths - peak) / sigma) ** 2)
    return float(K_MAX * (luminous_efficiency(wavelengths) @ power) / power.sum())


def spectral_radiance(wavelength: Array, temperature: float) -> Array:
    """Radiance of a black body per wavelength, W/(m² sr m): Planck's law."""
    exponent = PLANCK * SPEED_OF_LIGHT / (wavelength * BOLTZMANN * temperature)
    return 2.0 * PLANCK * SPEED_OF_LIGHT**2 / wavelength**5 / np.expm1(exponent)


def black_body_luminance(temperature: float) -> float:
    """Luminance in cd/m² of a black body at a temperature in K."""
    light = luminous_efficiency(_FINE) * spectral_radiance(_FINE, temperature)
    return float(K_MAX * np.trapezoid(light, _FINE))


def black_body_efficacy(temperature: float) -> float:
    """Lumens per watt of all that a black or grey body at a temperature in K radiates.

    How grey it is drops out, as long as it is equally grey at every wavelength.
    """
    return np.pi * black_body_luminance(temperature) / (_STEFAN_BOLTZMANN * temperature**4)


_STEFAN_BOLTZMANN: Final = (
    2.0 * np.pi**5 * BOLTZMANN**4 / (15.0 * PLANCK**3 * SPEED_OF_LIGHT**2)
)  # W/(m² K⁴)
