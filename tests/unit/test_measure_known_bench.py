"""Constants of a tube take their uncertainties from the bench, by the law of propagation."""

from __future__ import annotations

import math

import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.ready_made import ready_made
from glowtrace.measure.known_bench import known_by_bench
from glowtrace.measure.specific_charge import fit_specific_charge
from glowtrace.measure.tube import nominal_tube

EXACT = ready_made("deflection tube")


def test_an_exact_bench_says_nothing() -> None:
    assert known_by_bench(EXACT, "plates only", "ideal") == {}


def test_gap_and_length_are_known_as_the_bench_knows_them() -> None:
    bench = change(EXACT, {"plates.gap": "49(1) mm", "plates.length": "76(2) mm"})
    known = known_by_bench(bench, "plates only", "ideal")
    assert known["plate_gap"].uncertainty == pytest.approx(1e-3)
    assert known["plate_length"].uncertainty == pytest.approx(2e-3)
    # GUM 5.1.2: two independent heights, 0.2 mm and 0.3 mm, add by their squares.
    assert known["grid_shift"].uncertainty == pytest.approx(math.hypot(0.2e-3, 0.3e-3))
    # y ~ length / gap for traced electrons: relative uncertainties add by their squares.
    traced = known_by_bench(bench, "plates only", "bench")["plate_gap"]
    assert traced.uncertainty / 0.049 == pytest.approx(math.hypot(1 / 49, 2 / 76), rel=1e-6)


def test_the_coil_constant_of_a_helmholtz_pair() -> None:
    # B = (4/5)^(3/2) mu_0 N I / R with spacing = R: d ln B / d ln R at a fixed spacing is -2/5,
    # d ln B / d ln spacing is -3/5 (from B = mu_0 N R^2 / (R^2 + s^2/4)^(3/2)).
    tilted = {"slack": {"stray_field": "0 T"}}
    for number, text, power in (
        ("coils.mean_radius", "73(1) mm", 0.4),
        ("coils.spacing", "73(1) mm", 0.6),
        ("coils.turns", "343 ± 5", 1.0),
    ):
        bench = change(EXACT, {number: text, **tilted})
        known = known_by_bench(bench, "coils only", "ideal")["coil_constant"]
        relative = known.uncertainty / nominal_tube(EXACT, "ideal").coil_constant
        part = 1 / 73 if number != "coils.turns" else 5 / 343
        assert relative == pytest.approx(power * part, rel=2e-3), number


def test_a_result_is_as_uncertain_as_the_bench() -> None:
    readings = {
        "x": [0.095, 0.095],
        "y": [-0.0141, -0.0204],
        "accelerating_voltage": [3000.0, 3000.0],
        "coil_current": [-0.14, -0.2],
    }
    none = {"stray_field": "0 T", "beam_rise": "0 deg", "beam_height": "0 mm"}
    changes = {"coils.turns": "343 ± 17", "slack": none | {"grid_height": "0 mm"}}
    bench = change(EXACT, changes)
    sharp, wide = (
        fit_specific_charge("coils only", each, model="ideal", **readings)
        for each in (EXACT, bench)
    )
    # e/m goes as the square of one over the coil constant: 5 % of turns make 10 % of e/m.
    added = math.sqrt((wide.uncertainty / wide.value) ** 2 - (sharp.uncertainty / sharp.value) ** 2)
    assert added == pytest.approx(2 * 17 / 343, rel=0.02)
