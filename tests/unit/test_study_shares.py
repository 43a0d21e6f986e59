"""Shares of a variance against functions whose shares are known in closed form.

Ishigami's function: T. Ishigami and T. Homma, "An importance quantification technique in
uncertainty analysis for computer models", ISUMA 1990, 398-403; its shares and those of Sobol's
g-function as in A. Saltelli et al., "Global Sensitivity Analysis: The Primer", Wiley 2008, chapter
4 (formulas written from memory, evaluated here).
"""

from __future__ import annotations

import numpy as np
import pytest

from glowtrace.studies.shares import linear_shares, sample_plan, variance_shares


def test_shares_of_ishigamis_function():
    a, b = 7.0, 0.1
    x = np.pi * (2.0 * sample_plan("xyz", 1024, seed=1) - 1.0)
    read = np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0])
    first = 0.5 * (1.0 + b * np.pi**4 / 5.0) ** 2
    second, both = a**2 / 8.0, b**2 * np.pi**8 * (1 / 18 - 1 / 50)
    whole = first + second + both
    shares = variance_shares("xyz", read)
    alone = np.array([first, second, 0.0]) / whole
    total = np.array([first + both, second, both]) / whole
    assert [each.alone for each in shares] == pytest.approx(alone, abs=0.03)
    assert [each.total for each in shares] == pytest.approx(total, abs=0.03)
    off = np.array([each.total for each in shares]) - total
    assert (np.abs(off) < 2.0 * np.array([each.total_within for each in shares])).all()


def test_shares_of_sobols_g_function():
    a = np.array([0.0, 1.0, 4.5, 9.0])
    x = sample_plan("abcd", 2048, seed=2)
    read = np.prod((np.abs(4.0 * x - 2.0) + a) / (1.0 + a), axis=1)
    each = 1.0 / (3.0 * (1.0 + a) ** 2)
    whole = np.prod(1.0 + each) - 1.0
    total = each * np.prod(1.0 + each) / (1.0 + each) / whole
    shares = variance_shares("abcd", read)
    assert [share.alone for share in shares] == pytest.approx(each / whole, abs=0.03)
    assert [share.total for share in shares] == pytest.approx(total, abs=0.03)


def test_linear_shares_of_a_straight_line_are_exact():
    # Independent numbers: the parts of the variance are the squares of slope times spread.
    rng = np.random.default_rng(3)
    values = rng.standard_normal((4000, 3)) * [1.0, 2.0, 5.0]
    shares, explained = linear_shares("abc", values, values @ [3.0, 2.0, 0.0] + 7.0)
    assert explained == pytest.approx(1.0, abs=1e-12)
    assert [each.alone for each in shares] == pytest.approx([9 / 25, 16 / 25, 0.0], abs=0.03)
    _, explained = linear_shares("abc", values, values[:, 0] ** 2)
    assert explained < 0.01
    assert linear_shares("abc", values[:5], values[:5, 0])[0] == ()


def test_what_does_not_vary_has_no_shares():
    assert [each.total for each in variance_shares("ab", np.full(64, 3.0))] == [0.0, 0.0]
