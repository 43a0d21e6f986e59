"""The general fit against NIST's certified results for models that are linear in the parameters.

NIST/ITL, Statistical Reference Datasets, linear regression (US Government); the README beside the
data says where the numbers are from. The fit is the one that measures e/m: it is told the model as
a function, knows nothing of its being linear, and starts at zero. Wampler's first two sets are
polynomials without scatter (from memory), so that their results need no certificate.
"""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from numpy.polynomial import Chebyshev, Polynomial, chebyshev

from glowtrace.errors import GlowtraceError
from glowtrace.measure.fits.conditions import Series
from glowtrace.measure.fits.fitted import Fit
from glowtrace.measure.fits.fitting import fit
from glowtrace.measure.fits.parameters import Parameter

DATA = Path(__file__).parent / "data" / "nist_strd_linear"


class Certified(NamedTuple):
    values: np.ndarray  # (p,)
    deviations: np.ndarray  # (p,)
    residual_sum: float
    y: np.ndarray  # (n,)
    x: np.ndarray  # (n, k)


def certified(name: str) -> Certified:
    text = (DATA / f"{name}.dat").read_text()
    values, deviations = np.array(re.findall(r"^# b\d+ (\S+) (\S+)", text, re.MULTILINE), float).T
    total = float(re.search(r"residual sum of squares (\S+)", text)[1])
    table = np.loadtxt(text.splitlines(), comments="#")
    return Certified(values, deviations, total, table[:, 0], table[:, 1:])


def powers(x: np.ndarray, degree: int) -> np.ndarray:
    return x[:, :1] ** np.arange(degree + 1)


# What each parameter stands beside, (n, p)
TERMS = {
    "Norris": lambda x: powers(x, 1),
    "Pontius": lambda x: powers(x, 2),
    "NoInt1": lambda x: x,
    "NoInt2": lambda x: x,
    "Longley": lambda x: np.column_stack([np.ones(len(x)), x]),
    "Filip": lambda x: powers(x, 10),
}


def fitted(terms: np.ndarray, y: np.ndarray) -> Fit:
    """The fit of y = terms b, the errors of y taken as 1."""
    readings = np.column_stack([np.arange(len(y)), y])
    series = Series(
        "linear", ("row", "y"), readings, np.broadcast_to([0.0, 1.0], readings.shape),
        lambda theta, q: (q[:, 1] - terms[q[:, 0].astype(int)] @ theta)[:, None],
    )  # fmt: skip
    # A change that shows in y, from the data alone
    sizes = np.ptp(y) / np.abs(terms).max(axis=0)
    parameters = [
        Parameter(f"b{n}", f"b{n}", "1", 0.0, math.inf, typical=float(size))
        for n, size in enumerate(sizes)
    ]
    return fit([series], parameters)


def digits(found, known) -> float:
    """Digits that agree, as NIST counts them: -log10 of the largest relative error."""
    worst = float(np.max(np.abs(np.asarray(found) / np.asarray(known) - 1.0)))
    return 15.0 if worst == 0.0 else -math.log10(worst)


def test_every_file_is_used():
    assert {path.stem for path in DATA.glob("*.dat")} == set(TERMS)


def require_digits(found: Fit, values, covariance, known: Certified, count: int) -> None:
    """Parameters, their standard deviations and the residual sum agree to so many digits."""
    assert found.is_settled
    assert found.degrees_of_freedom == len(known.y) - len(known.values)
    assert digits(values, known.values) >= count
    deviations = np.sqrt(np.diag(covariance)) * found.birge_ratio
    assert digits(deviations, known.deviations) >= count
    assert digits(found.chi_square, known.residual_sum) >= 10


@pytest.mark.parametrize(
    ("name", "count"),
    [("Norris", 10), ("NoInt1", 10), ("NoInt2", 10), ("Pontius", 10), ("Longley", 8)],
)
def test_certified_linear_results_come_out(name, count):
    known = certified(name)
    found = fitted(TERMS[name](known.x), known.y)
    require_digits(found, found.values, found.covariance, known, count)


def test_filip_in_powers_is_refused_and_in_chebyshev_polynomials_comes_out():
    # Ten powers of numbers from -9 to -3 are nearly one: slopes that are differences of the model
    # do not tell them apart, and the fit says so instead of giving numbers without a digit.
    known = certified("Filip")
    with pytest.raises(GlowtraceError, match="do not tell them apart"):
        fitted(TERMS["Filip"](known.x), known.y)
    # The same polynomial in a basis that suits it; its powers follow without any fit.
    low, high = known.x.min(), known.x.max()
    scaled = (2 * known.x[:, 0] - low - high) / (high - low)
    found = fitted(chebyshev.chebvander(scaled, 10), known.y)
    in_powers = np.zeros((11, 11))
    for n in range(11):
        basis = Chebyshev.basis(n, domain=[low, high]).convert(kind=Polynomial)
        in_powers[: n + 1, n] = basis.coef
    covariance = in_powers @ found.covariance @ in_powers.T
    require_digits(found, in_powers @ found.values, covariance, known, 10)


@pytest.mark.parametrize("base", [1.0, 0.1], ids=["Wampler1", "Wampler2"])
def test_a_polynomial_without_scatter_comes_back(base):
    terms, true = powers(np.arange(21.0)[:, None], 5), base ** np.arange(6)
    found = fitted(terms, terms @ true)
    assert digits(found.values, true) >= 9
    assert np.sqrt(np.diag(found.covariance)).max() * found.birge_ratio < 1e-8
