"""Constants of nature against CODATA 2022, as scipy 1.15 and later carry it.

Source: E. Tiesinga, P. J. Mohr, D. B. Newell, B. N. Taylor, CODATA recommended values of 2022;
numbers with their standard uncertainties read in scipy's own table (scipy/constants/_codata.py).
"""

import pytest

from glowtrace import constants

EXACT = {
    "ELEMENTARY_CHARGE": 1.602176634e-19,
    "SPEED_OF_LIGHT": 299792458.0,
    "BOLTZMANN": 1.380649e-23,
}
MEASURED = {
    # value, standard uncertainty
    "ELECTRON_MASS": (9.1093837139e-31, 0.0000000028e-31),
    "VACUUM_PERMITTIVITY": (8.8541878188e-12, 0.0000000014e-12),
    "VACUUM_PERMEABILITY": (1.25663706127e-6, 0.00000000020e-6),
    "SPECIFIC_CHARGE": (1.75882000838e11, 0.00000000055e11),
    "REST_ENERGY_VOLTS": (0.51099895069e6, 0.00000000016e6),
}


@pytest.mark.parametrize("name", EXACT)
def test_exact_constants_of_the_si(name: str) -> None:
    assert getattr(constants, name) == EXACT[name]


@pytest.mark.parametrize("name", MEASURED)
def test_measured_constants_within_one_standard_uncertainty(name: str) -> None:
    value, uncertainty = MEASURED[name]
    assert abs(getattr(constants, name) - value) < uncertainty


def test_the_table_is_not_an_older_one() -> None:
    # e/m of CODATA 2018 (scipy 1.14) differs by 1.35e-9, several times what is allowed above.
    codata_2018 = 1.75882001076e11
    assert abs(constants.SPECIFIC_CHARGE - codata_2018) > 0.00000000200e11
