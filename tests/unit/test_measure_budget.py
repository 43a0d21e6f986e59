"""Budgets, results and single readings. Rules of the GUM where named, else of the project."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.ideal import flux_density_per_ampere
from glowtrace.bench.ready_made import ready_made
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.demos.circle import arc_height, gyration_radius
from glowtrace.demos.helix import focus_flux_density
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.demos.trochoid import trochoid
from glowtrace.errors import GlowtraceError
from glowtrace.measure.direct import (
    specific_charge_from_arc,
    specific_charge_from_circle,
    specific_charge_from_focus,
    specific_charge_from_null,
    specific_charge_from_null_and_deflection,
    specific_charge_from_turn_back,
)
from glowtrace.measure.experiment import Known, experiment
from glowtrace.measure.fit_budget import fit_budget
from glowtrace.measure.fits.budget import (
    budget,
    compare_with_simulation,
    coverage_factor,
    numerical_tolerance,
)
from glowtrace.measure.fits.propagation import Input, linear_propagation, simulate
from glowtrace.measure.result import Result, measured_specific_charge
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import table
from glowtrace.measure.trial_readings import exact_readings


def quotient(a, b):
    return a / b


def test_budget_of_a_quotient():
    # Relative uncertainties of a quotient add in squares: GUM 5.1.6
    inputs = [
        Input("a", 10.0, 0.1, "V", "A", degrees_of_freedom=4),
        Input("b", 2.0, 0.04, "A", distribution="rectangular"),
    ]
    found = budget(quotient, inputs, name="R", unit="ohm")
    assert found.value == 5.0
    assert found.uncertainty == pytest.approx(5 * math.hypot(0.01, 0.02), rel=1e-6)
    assert [line.share for line in found.lines] == pytest.approx([0.2, 0.8], rel=1e-5)
    assert [line.sensitivity for line in found.lines] == pytest.approx([0.5, -2.5], rel=1e-5)
    # Welch-Satterthwaite, GUM G.4.1: u^4 / (u_a^4 / 4) = 4 / 0.2^2
    assert found.degrees_of_freedom == pytest.approx(100.0, rel=1e-4)
    assert found.expanded == pytest.approx(found.coverage_factor * found.uncertainty)
    assert found.interval == pytest.approx((5 - found.expanded, 5 + found.expanded))


def test_coverage_factors():
    # Student's factors of GUM table G.2, from memory
    assert coverage_factor(math.inf) == pytest.approx(1.960, abs=5e-4)
    assert coverage_factor(10.9) == pytest.approx(2.23, abs=5e-3)  # rounded down to 10
    assert coverage_factor(4, 0.9545) == pytest.approx(2.87, abs=5e-3)
    with pytest.raises(GlowtraceError, match="take more readings"):
        coverage_factor(0.4)
    with pytest.raises(GlowtraceError, match="level"):
        coverage_factor(10, 95)


def test_numerical_tolerance():
    # JCGM 101, 7.9.2: half a unit of the second figure; its example of 0.035 -> 0.0005, from memory
    assert numerical_tolerance(0.035) == pytest.approx(0.0005)
    assert numerical_tolerance(10.1) == pytest.approx(0.5)
    assert numerical_tolerance(0.0) == 0.0


def test_full_correlation_adds_or_cancels():
    # GUM 5.2.2, note 1: fully correlated contributions add as they are
    inputs = [Input("a", 1.0, 0.1), Input("b", 1.0, 0.1)]
    same = np.array([[1.0, 1.0], [1.0, 1.0]])
    assert budget(lambda a, b: a + b, inputs, correlation=same).uncertainty == pytest.approx(0.2)
    assert budget(lambda a, b: a - b, inputs, correlation=same).uncertainty == pytest.approx(0.0)
    found = simulate(lambda a, b: a + b, inputs, correlation=same, trials=20_000)
    assert found.uncertainty == pytest.approx(0.2, rel=0.03)


def test_a_bent_function_is_warned_of():
    # x^2 at x = 0 has no slope there, so the linear uncertainty is 0: the case of GUM 5.1.2, note
    inputs = [Input("x", 0.0, 1.0)]
    both = compare_with_simulation(lambda x: x**2, inputs, unit="m2")
    assert both.linear.uncertainty == pytest.approx(0.0, abs=1e-3)
    assert both.simulated.uncertainty == pytest.approx(math.sqrt(2), rel=0.01)  # of chi-square(1)
    assert both.simulated.mean == pytest.approx(1.0, rel=0.01)
    assert "rely on the simulated one" in both.warning
    low, high = both.simulated.shortest
    assert low == pytest.approx(0.0, abs=1e-3)
    assert high == pytest.approx(3.84, abs=0.05)  # 95 % point of chi-square(1), any table


def test_inputs_that_make_no_sense_are_refused():
    with pytest.raises(GlowtraceError, match="uncertainty of a"):
        Input("a", 1.0, -0.1)
    with pytest.raises(GlowtraceError, match="degrees of freedom of a"):
        Input("a", 1.0, 0.1, degrees_of_freedom=0)
    pair = [Input("a", 1.0, 0.1), Input("b", 1.0, 0.1, distribution="rectangular")]
    with pytest.raises(GlowtraceError, match="one name twice"):
        budget(quotient, [pair[0], pair[0]])
    with pytest.raises(GlowtraceError, match="correlation"):
        budget(quotient, pair, correlation=[[1.0, 2.0], [2.0, 1.0]])
    with pytest.raises(GlowtraceError, match='"rectangular" for the correlated b'):
        simulate(quotient, pair, correlation=[[1.0, 0.5], [0.5, 1.0]])
    with pytest.raises(GlowtraceError, match="1000 or more"):
        simulate(quotient, pair, trials=10)
    with pytest.raises(GlowtraceError, match="finite numbers"):
        simulate(lambda a, b: 1.0, pair)
    with pytest.raises(GlowtraceError, match="covariance"):
        linear_propagation(lambda q: q[0], [1.0, 2.0], [[1.0]])


# ------------------------------------------------------------ results


def test_result_is_written_with_the_right_figures():
    made = Result("e/m", "C/kg", 1.7412e11, 2.34e9, 2.0, 0.95, SPECIFIC_CHARGE, 55.0)
    assert made.text == "1.741(23)e+11 C/kg"
    assert made.expanded == pytest.approx(4.68e9)
    # ISO 13528: distance over combined uncertainties
    assert made.zeta_score == pytest.approx((1.7412e11 - SPECIFIC_CHARGE) / 2.34e9, rel=1e-9)
    assert made.e_n == pytest.approx(made.zeta_score / 2)
    assert made.agrees
    assert not Result("e/m", "C/kg", 1.6e11, 2e9, 2.0, 0.95, SPECIFIC_CHARGE, 55.0).agrees


def circle_experiment():
    rows = [(200.0, 1.5, 0.08), (250.0, 1.5, 0.09), (150.0, 1.5, 0.07), (200.0, 2.0, 0.06)]
    cells = [{"accelerating_voltage": v, "coil_current": i, "diameter": d} for v, i, d in rows]
    meters = {
        "ruler": Instrument(resolution=1e-3, gain_limit=0.002),
        "coil_current": Instrument(resolution=0.01, gain_limit=0.01),
    }
    setup = experiment(
        ready_made("fine-beam bulb"),
        table("circle", cells, meters),
        known={"coil_constant": Known(None, 0.005 * 7.79e-4)},
    )
    return setup.with_tables(exact_readings(setup))


def test_budget_of_a_fit_accounts_for_all_of_the_variance():
    setup = circle_experiment()
    for robust in ("none", "huber", "student"):
        found = setup.fit(robust=robust)
        made = fit_budget(setup, found)
        assert sum(line.share for line in made.lines) == pytest.approx(1.0, rel=1e-6)
        assert made.uncertainty == pytest.approx(found.uncertainty("specific_charge"))
        shares = [line.share for line in made.lines]
        assert shares == sorted(shares, reverse=True)
    named = {line.name: line for line in made.lines}
    # e/m goes with 1 / (k I D)^2: relative sensitivities of -2
    constant = math.hypot(*flux_density_per_ampere(ready_made("fine-beam bulb")))
    for name, scale in (("coil constant", constant), ("gain of the ammeter", -1.0)):
        relative = named[name].sensitivity * scale / made.value
        assert relative == pytest.approx(-2.0, rel=2e-3)
    assert named["gain of the ammeter"].contribution / made.value == pytest.approx(
        0.02 / math.sqrt(3), rel=2e-3
    )


def test_repeats_count_as_type_a():
    setup = circle_experiment()
    cells = []
    for row in setup.tables[0].rows:
        d = row["diameter"].value
        cells.append({name: cell.value for name, cell in row.items()}
                     | {"diameter": [d - 2e-3, d + 2e-3, d, d - 1e-3, d + 1e-3]})  # fmt: skip
    repeated = setup.with_tables([table("circle", cells, setup.tables[0].instruments)])
    made = fit_budget(repeated, repeated.fit())
    line = next(each for each in made.lines if each.name.startswith("D as read"))
    assert line.kind == "A"
    assert 4 < line.degrees_of_freedom < 25  # 4 in each row, four rows, and the rounding
    assert made.degrees_of_freedom > line.degrees_of_freedom


def test_measured_specific_charge():
    setup = circle_experiment()
    made = measured_specific_charge(fit_budget(setup, setup.fit()))
    assert made.value == pytest.approx(SPECIFIC_CHARGE, rel=1e-6)
    assert abs(made.zeta_score) < 1e-3
    assert made.reference_uncertainty < 100
    with pytest.raises(GlowtraceError, match=r"give one in C/kg"):
        measured_specific_charge(fit_budget(setup, setup.fit(), "coil_constant"))
    with pytest.raises(GlowtraceError, match="an exact parameter"):
        fit_budget(setup, setup.fit(), "contact_offset")


# ------------------------------------------------------------ single readings

OTHER = 1.2 * SPECIFIC_CHARGE


def test_single_readings_give_back_the_specific_charge():
    # The closed forms of glowtrace.demos, which have their own outside references, inverted
    voltage, flux = 4000.0, -1.1e-3
    speed = speed_from_voltage(voltage, specific_charge=OTHER)
    radius = gyration_radius(speed, flux, specific_charge=OTHER)
    assert specific_charge_from_circle(voltage, flux, radius) == pytest.approx(OTHER, rel=1e-12)
    y = float(arc_height(np.array([0.06]), speed, flux, specific_charge=OTHER)[0])
    assert specific_charge_from_arc(voltage, flux, 0.06, y) == pytest.approx(OTHER, rel=1e-10)
    focus = focus_flux_density(speed, 0.2, turns=2, specific_charge=OTHER)
    assert specific_charge_from_focus(voltage, focus, 0.2, 2) == pytest.approx(OTHER, rel=1e-12)
    assert specific_charge_from_null(voltage, speed * flux, flux) == pytest.approx(OTHER, rel=1e-12)
    for drift in (0.2, 0.8):
        back = trochoid(speed, drift * speed * flux, flux, specific_charge=OTHER)
        found = specific_charge_from_turn_back(voltage, drift * speed * flux, flux, back.depth)
        assert found == pytest.approx(OTHER, rel=1e-9)


def test_readings_of_no_electron_are_refused():
    for wrong in (
        lambda: specific_charge_from_circle(1e6, 1e-6, 1e-3),
        lambda: specific_charge_from_arc(1e3, 1e-3, 0.05, 0.0),
        lambda: specific_charge_from_null(1e3, 1e4, -1e-3),
        lambda: specific_charge_from_null_and_deflection(1e4, 0.0, 0.05, 0.1),
        lambda: specific_charge_from_turn_back(1e3, 0.0, -1e-3, 5.0),
    ):
        with pytest.raises(GlowtraceError, match="no electron does this"):
            wrong()
