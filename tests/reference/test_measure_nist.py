"""The nonlinear fit against NIST's certified results, from both of NIST's starting points.

NIST/ITL, Statistical Reference Datasets, nonlinear regression (US Government); the README beside
the data says where the files are from. NIST grades the sets as of lower (Misra1a to DanWood),
average, and higher difficulty (MGH09 to Bennett5).
"""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from glowtrace.measure.fits.conditions import Series
from glowtrace.measure.fits.fitting import fit
from glowtrace.measure.fits.parameters import Parameter

DATA = Path(__file__).parent / "data" / "nist_strd"
DIGITS = 6  # -log10 of the relative error, as NIST counts them


def rational(b, x):
    return (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3) / (
        1 + b[4] * x + b[5] * x**2 + b[6] * x**3
    )


def decay_and_two_peaks(b, x):
    peaks = b[2] * np.exp(-(((x - b[3]) / b[4]) ** 2)) + b[5] * np.exp(-(((x - b[6]) / b[7]) ** 2))
    return b[0] * np.exp(-b[1] * x) + peaks


def three_decays(b, x):
    return sum(b[n] * np.exp(-b[n + 1] * x) for n in (0, 2, 4))


# As printed in each file, under "Model"
MODELS = {
    "Misra1a": lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
    "Chwirut2": lambda b, x: np.exp(-b[0] * x) / (b[1] + b[2] * x),
    "Lanczos3": three_decays,
    "Gauss1": decay_and_two_peaks,
    "DanWood": lambda b, x: b[0] * x ** b[1],
    "Hahn1": rational,
    "Roszman1": lambda b, x: b[0] - b[1] * x - np.arctan(b[2] / (x - b[3])) / np.pi,
    "MGH17": lambda b, x: b[0] + b[1] * np.exp(-x * b[3]) + b[2] * np.exp(-x * b[4]),
    "MGH09": lambda b, x: b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]),
    "MGH10": lambda b, x: b[0] * np.exp(b[1] / (x + b[2])),
    "Thurber": rational,
    "BoxBOD": lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
    "Rat42": lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)),
    "Rat43": lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)) ** (1 / b[3]),
    "Eckerle4": lambda b, x: b[0] / b[1] * np.exp(-(((x - b[2]) / b[1]) ** 2) / 2),
    "Bennett5": lambda b, x: b[0] * (b[1] + x) ** (-1 / b[2]),
}


class Certified(NamedTuple):
    starts: np.ndarray  # (2, p)
    values: np.ndarray  # (p,)
    deviations: np.ndarray  # (p,)
    residual_sum: float
    residual_deviation: float
    x: np.ndarray
    y: np.ndarray


def certified(name: str) -> Certified:
    text = (DATA / f"{name}.dat").read_text()
    lines = text.splitlines()
    first, last = map(int, re.search(r"Data\s+\(lines (\d+) to (\d+)\)", text).groups())
    y, x = np.loadtxt(lines[first - 1 : last], unpack=True)
    rows = re.findall(r"^ +b\d+ = +(\S+) +(\S+) +(\S+) +(\S+)", text, flags=re.MULTILINE)
    start_1, start_2, values, deviations = np.array(rows, dtype=float).T

    def number(title: str) -> float:
        return float(re.search(rf"{title}: +(\S+)", text)[1])

    return Certified(
        np.array([start_1, start_2]), values, deviations,
        number("Residual Sum of Squares"), number("Residual Standard Deviation"), x, y,
    )  # fmt: skip


def test_every_file_is_used():
    assert {path.stem for path in DATA.glob("*.dat")} == set(MODELS)


@pytest.mark.parametrize("start", [0, 1], ids=["start 1", "start 2"])
@pytest.mark.parametrize("name", MODELS)
@pytest.mark.filterwarnings("ignore:overflow encountered:RuntimeWarning")
def test_certified_results_come_out(name, start):
    known, model = certified(name), MODELS[name]
    readings = np.column_stack([known.x, known.y])
    # The errors of y are equal and unknown: taken as 1 here, their size follows from the scatter.
    series = Series(
        name, ("x", "y"), readings, np.broadcast_to([0.0, 1.0], readings.shape),
        lambda theta, q: (q[:, 1] - model(theta, q[:, 0]))[:, None],
    )  # fmt: skip
    parameters = [
        Parameter(f"b{n}", f"b{n}", "1", float(value), math.inf)
        for n, value in enumerate(known.starts[start], start=1)
    ]
    found = fit([series], parameters)
    assert found.is_settled
    # Not the printed degrees of freedom: Rat43 has 9 there, for 15 points and 4 parameters.
    assert found.degrees_of_freedom == len(known.x) - len(known.values)
    near = 10.0**-DIGITS
    assert found.values == pytest.approx(known.values, rel=near)
    assert found.chi_square == pytest.approx(known.residual_sum, rel=near)
    assert found.birge_ratio == pytest.approx(known.residual_deviation, rel=near)
    deviations = np.sqrt(np.diag(found.covariance)) * found.birge_ratio
    assert deviations == pytest.approx(known.deviations, rel=near)
