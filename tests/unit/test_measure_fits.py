"""Fits: outliers, prior knowledge, what cannot be told apart, intervals. Rules of the project
unless a source is named."""

from __future__ import annotations

import datetime
import math
from dataclasses import replace

import numpy as np
import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.ready_made import ready_made
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError
from glowtrace.measure.calibration import Factor, calibrate_tube, calibration_from_json
from glowtrace.measure.experiment import FREE, Known, experiment
from glowtrace.measure.fits.conditions import Series
from glowtrace.measure.fits.fitted import FitVerdict
from glowtrace.measure.fits.fitting import fit
from glowtrace.measure.fits.intervals import (
    interval,
    linear_interval,
    monte_carlo_interval,
    profile_interval,
)
from glowtrace.measure.fits.parameters import Parameter
from glowtrace.measure.fits.separability import separability
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Reading, table
from glowtrace.measure.trial_readings import drawn_truth, exact_readings, noisy_readings
from glowtrace.report.measurement.fit_words import separability_sentences

RULER = Instrument(resolution=1e-3)


def straight(y, u=0.1, x_u=0.0):
    y = np.asarray(y, dtype=float)
    x = np.arange(len(y), dtype=float)
    return Series(
        "line",
        ("x", "y"),
        np.array([x, y]).T,
        np.array([np.full_like(x, x_u), np.full_like(x, u)]).T,
        lambda theta, q: (q[:, 1] - theta[0] - theta[1] * q[:, 0])[:, None],
    )


LINE = (
    Parameter("a", "intercept", "1", 0.0, math.inf),
    Parameter("b", "slope", "1", 1.0, math.inf),
)


def test_prior_knowledge_is_one_more_reading():
    # Two measurements of one quantity combine with weights 1/u^2: any text on statistics.
    series = Series(
        "one", ("y",), np.array([[10.0]]), np.array([[3.0]]),
        lambda theta, q: q - theta[0],
    )  # fmt: skip
    found = fit([series], [Parameter("a", "a", "1", 4.0, 4.0)])
    assert found.value("a") == pytest.approx((10 / 9 + 4 / 16) / (1 / 9 + 1 / 16))
    assert found.uncertainty("a") == pytest.approx((1 / 9 + 1 / 16) ** -0.5)
    assert found.chi_square == pytest.approx(6**2 / (9 + 16))
    assert found.degrees_of_freedom == 1


@pytest.mark.parametrize("robust", ["huber", "student"])
def test_an_outlier_is_shown_and_does_not_carry_the_line_away(robust):
    generator = np.random.default_rng(7)
    y = 2.0 + 0.5 * np.arange(20) + 0.1 * generator.normal(size=20)
    y[15] += 3.0
    plain, sturdy = fit([straight(y)], LINE), fit([straight(y)], LINE, robust=robust)
    assert sturdy.is_settled
    assert 15 in plain.fitted[0].outliers
    assert sturdy.fitted[0].outliers == (15,)
    assert sturdy.fitted[0].weights[15] < 0.1
    assert plain.verdict is FitVerdict.POOR
    assert sturdy.verdict is FitVerdict.GOOD
    assert sturdy.degrees_of_freedom == 17
    assert abs(plain.value("b") - 0.5) > 3 * plain.uncertainty("b")
    assert abs(sturdy.value("b") - 0.5) < 2 * sturdy.uncertainty("b")
    assert sturdy.uncertainty("b") >= plain.uncertainty("b")


def test_uncertainties_that_are_too_large_are_noticed():
    generator = np.random.default_rng(3)
    y = np.arange(30) + 0.01 * generator.normal(size=30)
    found = fit([straight(y)], LINE)
    assert found.verdict is FitVerdict.TOO_GOOD
    assert found.birge_ratio == pytest.approx(0.1, rel=0.4)
    two = fit([straight([0.0, 1.0])], LINE)
    assert two.verdict is FitVerdict.UNCHECKED
    assert math.isnan(two.p_value)
    assert math.isnan(two.birge_ratio)


def test_errors_of_x_are_not_lost():
    # Slope 1: errors of x and y add in squares (York et al. 2004, weight at b = 1)
    y = [0.1, 0.9, 2.1, 2.9, 4.1, 4.9]
    both = fit([straight(y, u=0.1, x_u=0.1)], LINE)
    only = fit([straight(y, u=0.1)], LINE)
    assert both.uncertainty("b") / only.uncertainty("b") == pytest.approx(math.sqrt(2), rel=0.03)


def test_what_the_readings_do_not_determine_is_refused():
    def twins(theta, q):
        return (q[:, 1] - (theta[0] + theta[1]) * q[:, 0])[:, None]

    pair = [replace(each, value=0.5) for each in LINE]
    with pytest.raises(GlowtraceError, match="a and b is not allowed; the readings do not tell"):
        fit([replace(straight([0, 1, 2, 3]), conditions=twins)], pair)
    blind = [*LINE, Parameter("c", "c", "1", 1.0, math.inf)]
    with pytest.raises(GlowtraceError, match="do not depend"):
        fit([straight([0, 1, 2, 3])], blind)
    with pytest.raises(GlowtraceError, match="1 readings for 2 free"):
        fit([straight([1.0])], LINE)
    with pytest.raises(GlowtraceError, match="only exact ones"):
        fit([straight([0, 1, 2])], [replace(each, spread=0.0) for each in LINE])
    with pytest.raises(GlowtraceError, match="line, row 1: every reading is exact"):
        fit([straight([0, 1, 2], u=0.0)], LINE)


def test_parameters_say_what_is_wrong_with_them():
    with pytest.raises(GlowtraceError, match="gap: -1 m is not allowed; give 0 to inf m"):
        Parameter("gap", "gap", "m", -1.0, low=0.0)
    with pytest.raises(GlowtraceError, match="spread of gap"):
        Parameter("gap", "gap", "m", 1.0, -0.1)
    found = fit([straight([0.0, 1.0, 2.1])], LINE)
    with pytest.raises(GlowtraceError, match='"c" is not allowed; known parameters are a, b'):
        found.value("c")


# ------------------------------------------------------------ experiments


def circles(**known):
    rows = [(200.0, 1.5, 0.08), (250.0, 1.5, 0.09), (150.0, 1.5, 0.07), (200.0, 2.0, 0.06)]
    made = table(
        "circle",
        [{"accelerating_voltage": v, "coil_current": i, "diameter": d} for v, i, d in rows],
        {"ruler": RULER},
    )
    return experiment(ready_made("fine-beam bulb"), made, known=known)


def test_uncertain_coils_show_in_the_result_in_full():
    # e/m goes with 1 / k^2, so 1 % of the coil constant is 2 % of e/m and averages out nowhere.
    setup = circles(coil_constant=Known(None, 0.01 * 7.79e-4))
    found = setup.with_tables(exact_readings(setup)).fit()
    alone = circles().with_tables(exact_readings(setup)).fit()
    extra = found.uncertainty("specific_charge") ** 2 - alone.uncertainty("specific_charge") ** 2
    assert math.sqrt(extra) / SPECIFIC_CHARGE == pytest.approx(0.02, rel=0.01)
    seen = separability(found)
    assert seen.learned["coil_constant"] < 1e-3
    assert seen.learned["specific_charge"] > 0.99
    pair = [
        (a, b, r) for a, b, r in seen.entangled if {a, b} <= {"specific_charge", "coil_constant"}
    ]
    assert pair
    assert pair[0][2] < -0.9
    assert any("coil constant" in line for line in separability_sentences(seen))
    assert "coil constant" in alone.parameters[1].title
    assert "coil constant" in circles().taken_as_exact


def test_plates_alone_do_not_give_e_over_m():
    # Standard result: y = V_p x^2 / (4 d V_a) for slow electrons, e/m cancels.
    bench = ready_made("deflection tube")
    made = table(
        "plates only",
        [
            {"x": x, "y": 0.006, "accelerating_voltage": 3000.0, "plate_voltage": 1000.0}
            for x in (0.05, 0.06, 0.07, 0.08, 0.09)
        ],
        {"ruler": RULER},
    )
    setup = experiment(bench, made, known={"plate_gap": Known(None, 1e-3)})
    exact = setup.with_tables(exact_readings(setup))
    seen = separability(exact.fit())
    unresolved = [each for each in seen.directions if not each.is_resolved]
    assert any(abs(each.parts["specific_charge"]) > 0.5 for each in unresolved)
    # With e/m as accepted they give the gap.
    gap = experiment(
        bench,
        exact.tables,
        known={"specific_charge": Known(SPECIFIC_CHARGE), "plate_gap": FREE},
    ).fit()
    assert gap.value("plate_gap") == pytest.approx(0.049, rel=1e-6)


def test_reversing_the_current_finds_earths_field():
    rows = [(200.0, i, 0.08) for i in (1.5, -1.5, 1.3, -1.3, 1.7, -1.7)]
    made = table(
        "circle",
        [{"accelerating_voltage": v, "coil_current": i, "diameter": d} for v, i, d in rows],
        {"ruler": RULER},
    )
    bench = ready_made("fine-beam bulb")
    setup = experiment(bench, made, known={"earth_z": FREE})
    truth = {"earth_z": 25e-6, "specific_charge": 1.7e11}
    found = setup.with_tables(exact_readings(setup, truth)).fit()
    assert found.value("earth_z") == pytest.approx(25e-6, rel=1e-5)
    assert found.value("specific_charge") == pytest.approx(1.7e11, rel=1e-6)


def all_methods():
    plates = {"accelerating_voltage": 3000.0, "plate_voltage": 1000.0}
    coils = {"accelerating_voltage": 3000.0, "coil_current": 0.14}
    focus = {"length": 0.2, "accelerating_voltage": 500.0, "turns": 1.0}
    back = {"depth": -0.019, "pitch": None, "accelerating_voltage": 500.0,
            "plate_voltage": 1040.0, "coil_current": -1.4}  # fmt: skip
    return {
        "plates only": ("deflection tube", [plates | {"x": x, "y": 0.1 * x} for x in (0.06, 0.09)]),
        "coils only": ("deflection tube", [coils | {"x": x, "y": 0.1 * x} for x in (0.06, 0.09)]),
        "null": ("deflection tube", [coils | {"plate_voltage": -1100.0}]),
        "circle": ("fine-beam bulb", [
            {"diameter": 0.08, "accelerating_voltage": 200.0, "coil_current": 1.5}]),
        "axial focus": ("axial coil tube", [focus | {"coil_current": 0.305}]),
        "turn-back": ("deflection tube", [back]),
    }  # fmt: skip


@pytest.mark.parametrize("model", ["ideal", "bench"])
@pytest.mark.parametrize("method", list(all_methods()))
def test_every_method_gives_back_what_went_in(method, model, request):
    name, rows = all_methods()[method]
    prepared = request.getfixturevalue(name.replace(" ", "_").replace("-", "_"))
    made = table(method, rows, {"ruler": RULER, "coil_current": Instrument(resolution=1e-3)}
                 if method != "plates only" else {"ruler": RULER})  # fmt: skip
    free = "plate_gap" if method == "plates only" else "specific_charge"
    known = {"specific_charge": Known(SPECIFIC_CHARGE)} | {free: FREE}
    setup = experiment(prepared, made, model=model, known=known)
    start = next(each.value for each in setup.parameters if each.name == free)
    truth = 1.04 * start
    found = setup.with_tables(exact_readings(setup, {free: truth})).fit()
    assert found.value(free) == pytest.approx(truth, rel=1e-4)
    assert found.is_settled


def test_the_two_models_differ_where_the_textbook_is_wrong(fine_beam_bulb):
    # A traced circle, evaluated by the textbook: the coils' field falls off the centre.
    made = circles().tables[0]
    real = experiment(fine_beam_bulb, made, model="bench")
    shown = exact_readings(real)
    ideal = experiment(fine_beam_bulb.bench, shown).fit()
    assert -0.02 < ideal.value("specific_charge") / SPECIFIC_CHARGE - 1 < -0.002
    again = real.with_tables(shown).fit()
    assert again.value("specific_charge") == pytest.approx(SPECIFIC_CHARGE, rel=1e-6)


def test_different_meters_of_one_quantity_have_errors_of_their_own():
    rows = [{"accelerating_voltage": 200.0, "coil_current": 1.5, "diameter": 0.0838}]
    one = Instrument(resolution=0.01, gain_limit=0.01)
    tables = [
        table("circle", rows, {"ruler": RULER, "coil_current": each})
        for each in (one, one, replace(one, name="another"))
    ]
    names = [p.name for p in experiment(ready_made("fine-beam bulb"), tables).parameters]
    assert [name for name in names if "current_gain" in name] == ["current_gain", "current_gain_2"]


def test_experiments_that_make_no_sense_are_refused(fine_beam_bulb):
    bulb = ready_made("fine-beam bulb")
    made = circles().tables
    with pytest.raises(GlowtraceError, match="the bench has to have plates"):
        experiment(bulb, table("null", [{"plate_voltage": 1.0, "coil_current": 1.0,
                                         "accelerating_voltage": 100.0}]))  # fmt: skip
    with pytest.raises(GlowtraceError, match="coil pair"):
        experiment(ready_made("axial coil tube"), made)
    with pytest.raises(GlowtraceError, match="a long coil"):
        experiment(bulb, table("axial focus", []), known={})
    with pytest.raises(GlowtraceError, match="none of them can be used"):
        experiment(bulb, table("circle", [{}]))
    with pytest.raises(GlowtraceError, match="prepare the bench first"):
        experiment(bulb, made, model="bench")
    with pytest.raises(GlowtraceError, match='"gap" is not allowed'):
        experiment(bulb, made, known={"gap": FREE})
    with pytest.raises(GlowtraceError, match='"plate_length" is not allowed; these readings'):
        experiment(fine_beam_bulb, made, model="bench", known={"plate_length": FREE})
    far = [replace(made[0], rows=({**made[0].rows[0], "coil_current": Reading(-0.9)},))]
    with pytest.raises(GlowtraceError, match="circle, row 1: the model gives no such reading"):
        experiment(fine_beam_bulb, far, model="bench").fit()


def test_a_pitch_that_the_model_does_not_have_is_not_dropped(deflection_tube):
    # A looping beam that comes back to the anode has a depth and no pitch.
    row = {"depth": -0.02, "pitch": 0.03, "accelerating_voltage": 500.0,
           "plate_voltage": 1040.0, "coil_current": -1.4}  # fmt: skip
    both = table("turn-back", [row], {"ruler": RULER})
    with pytest.raises(GlowtraceError, match="turn-back, row 1: the model gives no such reading"):
        experiment(deflection_tube, both, model="bench").fit()
    depth = table("turn-back", [row | {"pitch": None}], {"ruler": RULER})
    assert experiment(deflection_tube, depth, model="bench").fit().is_settled


# ------------------------------------------------------------ intervals


def test_profile_and_monte_carlo_agree_with_the_linear_interval_where_it_is_good():
    setup = circles()
    found = noisy_readings(setup, exact_readings(setup), 3).fit()
    linear = linear_interval(found, "specific_charge")
    half = (linear.high - linear.low) / 2
    for other in (
        profile_interval(found, "specific_charge"),
        monte_carlo_interval(found, "specific_charge", trials=150),
    ):
        assert other.low == pytest.approx(linear.low, abs=0.25 * half)
        assert other.high == pytest.approx(linear.high, abs=0.25 * half)
    assert interval(found, "specific_charge").how == "linear"


def test_profile_of_a_normal_mean_is_exact():
    # Mean of n normal readings: +-1.96 u / sqrt(n), any text; the profile of a parabola
    series = Series(
        "mean", ("y",), np.array([[1.0], [2.0], [4.0], [5.0]]), np.full((4, 1), 0.5),
        lambda theta, q: q - theta[0],
    )  # fmt: skip
    found = fit([series], [Parameter("a", "a", "1", 1.0, math.inf)])
    profile = profile_interval(found, "a")
    assert (profile.low, profile.high) == pytest.approx((3 - 0.48999, 3 + 0.48999), abs=1e-3)


def test_a_bent_model_gets_its_profile():
    # y = 1/a measured as 0.5 +- 0.2: a = 1 / (0.5 -+ 1.96 x 0.2) by the transformation itself
    series = Series(
        "inverse", ("y",), np.array([[0.5]]), np.array([[0.2]]),
        lambda theta, q: q - 1.0 / theta[0],
    )  # fmt: skip
    found = fit([series], [Parameter("a", "a", "1", 1.5, math.inf, low=1e-3)])
    best = interval(found, "a")
    assert best.how == "profile"
    assert "half width" in best.note
    assert best.low == pytest.approx(1 / (0.5 + 1.95996 * 0.2), rel=1e-3)
    assert best.high == pytest.approx(1 / (0.5 - 1.95996 * 0.2), rel=1e-3)


def test_an_end_without_a_limit_is_infinite():
    # 1/a read as 0.1 +- 0.2 is compatible with 0, so a has no upper limit.
    series = Series(
        "inverse", ("y",), np.array([[0.1]]), np.array([[0.2]]),
        lambda theta, q: q - 1.0 / theta[0],
    )  # fmt: skip
    found = fit([series], [Parameter("a", "a", "1", 8.0, math.inf, low=0.5)])
    assert math.isinf(profile_interval(found, "a").high)
    assert profile_interval(found, "a").low == pytest.approx(1 / (0.1 + 1.95996 * 0.2), rel=1e-2)


def test_trials_that_cannot_be_fitted_are_counted():
    def root(theta, q):
        return q - np.sqrt(theta[0] + 0.0 * q) if q.min() > 0 else np.full_like(q, np.inf)

    series = Series("root", ("y",), np.array([[1.0]]), np.array([[0.6]]), root)
    found = fit([series], [Parameter("a", "a", "1", 1.2, math.inf, low=1e-6)])
    few = monte_carlo_interval(found, "a", trials=100, seed=1)
    assert "of 100 trials could not be fitted" in few.note
    assert 0 <= few.low < 1 < few.high
    with pytest.raises(GlowtraceError, match="20 trials could be fitted"):
        monte_carlo_interval(found, "a", trials=20)


def test_intervals_refuse_what_makes_no_sense():
    setup = circles()
    found = noisy_readings(setup, exact_readings(setup), 3).fit(robust="student")
    with pytest.raises(GlowtraceError, match="Monte Carlo"):
        profile_interval(found, "specific_charge")
    assert interval(found, "specific_charge").how == "linear"
    with pytest.raises(GlowtraceError, match="an exact parameter"):
        monte_carlo_interval(found, "coil_constant")
    with pytest.raises(GlowtraceError, match="20 or more"):
        monte_carlo_interval(found, "specific_charge", trials=3)
    with pytest.raises(GlowtraceError, match="level"):
        linear_interval(found, "specific_charge", 95.0)


# ------------------------------------------------------------ calibration


def test_calibration_finds_the_factors_and_is_applied(deflection_tube):
    bench = deflection_tube.bench
    name, rows = all_methods()["plates only"]
    plates = table("plates only", rows, {"ruler": RULER})
    coils = table("coils only", all_methods()["coils only"][1], {"ruler": RULER})
    accepted = {"specific_charge": Known(SPECIFIC_CHARGE)}
    setup = experiment(deflection_tube, [plates, coils], model="bench",
                       known=accepted | {"plate_gap": FREE})  # fmt: skip
    shown = exact_readings(setup, {"plate_gap": 0.049 / 0.97})
    run = calibrate_tube(
        deflection_tube, shown, model="bench", date=datetime.date(2026, 1, 2), note="first"
    )
    assert name == bench.name
    assert run.fit.is_settled
    assert run.calibration.plate_factor.value == pytest.approx(0.97, rel=1e-4)
    assert run.calibration.coil_factor.value == pytest.approx(1.0, rel=1e-4)
    assert 0 < run.calibration.plate_factor.uncertainty < 0.1

    again = calibration_from_json(run.calibration.to_json())
    assert again == run.calibration
    known = again.known(bench)
    assert known["plate_gap"].value == pytest.approx(0.049 / 0.97, rel=1e-4)
    applied = experiment(deflection_tube, coils, model="bench",
                         known={"coil_constant": known["coil_constant"]})  # fmt: skip
    assert applied.parameters[1].spread == known["coil_constant"].uncertainty
    other = change(bench, {"plates.gap": 0.05})
    with pytest.raises(GlowtraceError, match="other geometry"):
        again.known(other)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "broken"),
        ("[]", "broken"),
        ('{"format": "x"}', "'x'"),
        ('{"format": "glowtrace-calibration 1"}', "without its 'model'"),
        ('{"format": "glowtrace-calibration 1", "model": "best"}', "'best'"),
    ],
)
def test_broken_calibrations_are_refused(text, says):
    with pytest.raises(GlowtraceError, match=says):
        calibration_from_json(text)


def test_factors_and_true_readings_that_make_no_sense_are_refused():
    with pytest.raises(GlowtraceError, match="factor"):
        Factor(0.0, 0.1)
    far = table("circle", [{"accelerating_voltage": 200.0, "coil_current": 1.5, "diameter": 1.9}])
    with pytest.raises(GlowtraceError, match=r"circle, row 1: diameter near 1.9 is not allowed"):
        exact_readings(experiment(ready_made("fine-beam bulb"), far))


def test_fields_in_which_nothing_turns_back():
    weak = {"depth": -0.02, "pitch": None, "accelerating_voltage": 500.0, "plate_voltage": 5000.0,
            "coil_current": 0.0}  # fmt: skip
    made = table("turn-back", [weak], {"ruler": RULER})
    with pytest.raises(GlowtraceError, match="turn-back, row 1: the model gives no such reading"):
        experiment(ready_made("deflection tube"), made).fit()


def test_drawn_truth_keeps_to_its_limits():
    made = replace(circles().tables[0], instruments={"ruler": Instrument(gain_limit=0.01)})
    setup = experiment(ready_made("fine-beam bulb"), made)
    drawn = [drawn_truth(setup, seed)["ruler_gain"] for seed in range(200)]
    assert max(map(abs, drawn)) <= 0.01
    assert np.std(drawn) == pytest.approx(0.01 / math.sqrt(3), rel=0.15)


@pytest.mark.parametrize("model", ["ideal", "bench"])
def test_a_null_does_not_depend_on_how_the_grid_lies(model, deflection_tube):
    # It is the plate voltage that makes the line straight again, as without fields: V = v B d.
    nulls = table(
        "null",
        [
            {
                "accelerating_voltage": 3000.0,
                "coil_current": amperes,
                "plate_voltage": -7e3 * amperes,
            }
            for amperes in (0.1, 0.14)
        ],
        {"plate_voltage": Instrument(judgement=4.0)},
    )
    points = table(
        "plates only",
        [{"accelerating_voltage": 3000.0, "plate_voltage": 1000.0, "x": 0.08, "y": 0.008}],
        {"ruler": RULER},
    )
    grid = {"grid_tilt": Known(0.0, 0.003), "grid_shift": Known(0.0, 0.3e-3)}
    both = experiment(deflection_tube, [nulls, points], model=model, known=grid)
    straight = exact_readings(both)
    askew = exact_readings(both, {"grid_tilt": 0.01, "grid_shift": 0.9e-3})
    assert askew[0].values("plate_voltage") == pytest.approx(straight[0].values("plate_voltage"))
    height = askew[1].values("y") - straight[1].values("y")
    assert height == pytest.approx(0.9e-3 + 0.01 * 0.08, rel=0.02)
    with pytest.raises(GlowtraceError, match="grid_tilt"):
        experiment(deflection_tube, nulls, model=model, known=grid)
