"""Laws that hold for every reading and every line. Standard statistics and own rules."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from glowtrace.bench.ready_made import ready_made
from glowtrace.demos.circle import gyration_radius
from glowtrace.demos.kinematics import speed_from_voltage
from glowtrace.errors import GlowtraceError
from glowtrace.measure.experiment import experiment
from glowtrace.measure.fits.budget import budget
from glowtrace.measure.fits.propagation import Input
from glowtrace.measure.fits.straight_line import ordinary_line, york_line
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Reading, table
from glowtrace.measure.tables.spreadsheet import read_table, write_table
from glowtrace.measure.tube import ideal_coil_constant

sizes = st.floats(1e-3, 1e3)
cells = st.one_of(
    st.none(),
    st.floats(allow_nan=False, allow_infinity=False, width=64).map(Reading),
    st.tuples(st.floats(1.0, 1e4), st.floats(1e-6, 1e3)).map(lambda pair: Reading(*pair)),
    st.lists(st.floats(1e-3, 1e4), min_size=2, max_size=4),
)
rows = st.fixed_dictionaries(
    {"diameter": cells, "accelerating_voltage": cells, "coil_current": cells}
)
points = st.lists(
    st.tuples(st.floats(-10, 10), st.floats(-1, 1), sizes, sizes), min_size=4, max_size=12
).filter(lambda each: np.ptp([x for x, *_ in each]) > 0.5)


@given(st.lists(rows, min_size=1, max_size=5), st.sampled_from("\t;,"))
def test_every_table_survives_being_written(made, separator):
    whole = table("circle", made, {"ruler": Instrument(1e-3, 0.002)})
    again = read_table(write_table(whole, separator))
    assert again.usable == whole.usable
    for name in ("diameter", "accelerating_voltage", "coil_current"):
        for old, new in zip(whole.rows, again.rows, strict=True):
            assert new[name].value == old[name].value
            assert new[name].repeats == old[name].repeats
            if old[name].uncertainty is not None:
                assert new[name].uncertainty == pytest.approx(old[name].uncertainty, rel=1e-12)


@given(st.text(alphabet="0123456789.,;\t\n/±()-+eEVAmkDI_ #:", max_size=200))
def test_any_text_is_read_or_refused(text):
    refused = ""
    try:
        found = read_table(text, "circle")
    except GlowtraceError as error:
        refused = str(error)
    assert refused or len(found.usable) + len(found.faults) == len(found.rows)


@given(points)
def test_a_line_through_exact_points_is_found(made):
    x = np.array([each[0] for each in made])
    ux, uy = np.array([each[2] for each in made]), np.array([each[3] for each in made])
    line = york_line(x, 3.0 - 0.7 * x, ux, uy)
    assert line.slope == pytest.approx(-0.7, rel=1e-9)
    assert line.intercept == pytest.approx(3.0, rel=1e-8)
    assert line.chi_square == pytest.approx(0.0, abs=1e-12)


@settings(max_examples=50)
@given(st.integers(0, 10_000), st.floats(0.3, 3.0), st.floats(0.01, 100.0))
def test_yorks_line_does_not_care_which_variable_is_called_x(seed, slope, unit):
    # Symmetry in x and y: York et al. 2004; the unit scales what has it
    generator = np.random.default_rng(seed)
    true = np.linspace(0, 10, 8)
    ux, uy = generator.uniform(0.1, 0.4, (2, 8))
    x = true + ux * generator.normal(size=8)
    y = slope * true + 1.0 + uy * generator.normal(size=8)
    line, swapped = york_line(x, y, ux, uy), york_line(unit * y, x, unit * uy, ux)
    assert unit * swapped.slope == pytest.approx(1 / line.slope, rel=1e-6)
    assert swapped.chi_square == pytest.approx(line.chi_square, rel=1e-6)
    relative = line.slope_uncertainty / line.slope
    assert swapped.slope_uncertainty / swapped.slope == pytest.approx(relative, rel=1e-3)


@given(points)
def test_equal_errors_of_y_alone_give_the_ordinary_line(made):
    x, y = np.array([each[0] for each in made]), np.array([each[1] for each in made])
    plain, weighted = ordinary_line(x, y), york_line(x, y, 0.0, 0.3)
    assert weighted.slope == pytest.approx(plain.slope, abs=1e-9)
    assert weighted.intercept == pytest.approx(plain.intercept, abs=1e-9)


@given(st.lists(st.tuples(sizes, sizes, st.sampled_from((-1.0, 1.0))), min_size=1, max_size=6))
def test_shares_of_independent_inputs_add_to_one(made):
    inputs = [Input(f"x{n}", value, u) for n, (value, u, _) in enumerate(made)]
    signs = [sign for *_, sign in made]

    def total(**quantities):
        return sum(s * q for s, q in zip(signs, quantities.values(), strict=True))

    found = budget(total, inputs)
    assert sum(line.share for line in found.lines) == pytest.approx(1.0)
    assert found.uncertainty == pytest.approx(math.sqrt(sum(u**2 for _, u, _ in made)), rel=1e-6)


@settings(max_examples=15)
@given(st.floats(1.0e11, 3.0e11), st.permutations(range(4)))
def test_e_over_m_is_found_whatever_it_is_and_however_the_rows_stand(charge, order):
    bench = ready_made("fine-beam bulb")
    constant = ideal_coil_constant(bench)
    knobs = [(200.0, 1.5), (250.0, 1.5), (150.0, 1.3), (200.0, 2.0)]
    shown = []
    for voltage, current in (knobs[n] for n in order):
        speed = speed_from_voltage(voltage, specific_charge=charge)
        radius = gyration_radius(speed, constant * current, specific_charge=charge)
        shown.append(_circle(voltage, current, 2 * radius))
    made = table("circle", shown, {"ruler": Instrument(1e-3)})
    found = experiment(bench, made).fit()
    assert found.value("specific_charge") == pytest.approx(charge, rel=1e-7)


def _circle(voltage, current, diameter):
    return {"accelerating_voltage": voltage, "coil_current": current, "diameter": diameter}


@pytest.mark.parametrize(
    ("x", "y", "u", "says"),
    [
        ([1.0, 2.0], [1.0, 2.0], 0.1, "3 or more"),
        ([1.0, 2.0, 3.0], [1.0, 2.0, math.nan], 0.1, "finite"),
        ([2.0, 2.0, 2.0], [1.0, 2.0, 3.0], 0.1, "give different ones"),
        ([1.0, 2.0, 3.0], [1.0, 2.0, 3.0], 0.0, "uncertainty"),
    ],
)
def test_lines_that_make_no_sense_are_refused(x, y, u, says):
    with pytest.raises(GlowtraceError, match=says):
        york_line(x, y, u, u)
