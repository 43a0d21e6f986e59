"""Plans: fixed knobs, ranking, windows, margins, sensitivities, refusals and remedies.

Criteria and wording are the project's own; what is computed is checked by computing it again with
the forward model at the settings that the plan names.
"""

import json
from itertools import pairwise

import numpy as np
import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import check_settings
from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import (
    CoilDeflection,
    FullCircle,
    HelixFocus,
    PlateDeflection,
    StraightBeam,
    TurnBack,
    suitable_goals,
)
from glowtrace.errors import BenchError
from glowtrace.plan import plan_goal

HEIGHT = PlateDeflection(0.09, 0.01)


def rerated(tube, changes):
    return PreparedBench(change(tube.bench, changes), tube.fields, tube.earth)


@pytest.fixture(scope="module")
def height_plans(deflection_tube):
    return plan_goal(deflection_tube, HEIGHT).answers


def test_every_suggested_goal_has_a_plan(deflection_tube, fine_beam_bulb, axial_coil_tube):
    for tube in (deflection_tube, fine_beam_bulb, axial_coil_tube):
        for goal in suitable_goals(tube.bench):
            planned = plan_goal(tube, goal, answers=1)
            assert planned.answers, f"{goal}: {planned.refusal}"
            json.dumps(planned.as_dict(), allow_nan=False)


def test_answers_differ_in_what_is_seen_and_the_brighter_of_equals_comes_first(height_plans):
    """Light of a phosphor grows with the electrons' energy (common practice, no source)."""
    assert {plan.settings.plate_tie for plan in height_plans} == {"symmetric"}
    voltages = [plan.settings.accelerating_voltage for plan in height_plans]
    assert len(set(voltages)) == len(voltages) > 1
    for first, second in pairwise(height_plans):
        is_wider = second.narrowest < 0.8 * first.narrowest
        is_brighter = first.settings.accelerating_voltage > second.settings.accelerating_voltage
        assert is_wider or is_brighter


def test_the_same_with_the_plates_tied_otherwise_is_a_remark(deflection_tube, height_plans):
    for plan in height_plans:
        ties = {other.plate_tie for other in plan.other_ties}
        assert ties == {"lower at anode", "upper at anode"}
        for other in plan.other_ties:
            assert other.accelerating_voltage == plan.settings.accelerating_voltage
            assert HEIGHT.is_met(deflection_tube, other).ok


def test_the_circuit_that_is_set_is_kept(deflection_tube):
    circuit = Settings(accelerating_voltage=1000.0, plate_tie="lower at anode")
    planned = plan_goal(deflection_tube, HEIGHT, circuit=circuit, answers=2)
    assert {plan.settings.plate_tie for plan in planned.answers} == {"lower at anode"}


def test_settings_are_those_that_a_supply_shows_and_still_do(deflection_tube, height_plans):
    for plan in height_plans:
        for knob in plan.windows:
            value = getattr(plan.settings, knob)
            assert value == float(f"{value:.4g}")
        assert HEIGHT.is_met(deflection_tube, plan.settings).ok


def test_answer_windows_and_refusal_have_one_test(deflection_tube):
    """The same settings, fixed, are not refused; nor does an answer stand beyond its window."""
    goal = TurnBack.for_bench(deflection_tube.bench)
    plan = plan_goal(deflection_tube, goal, answers=1).answers[0]
    kept = ("accelerating_voltage", "plate_voltage", "coil_current", "plate_tie",
            "plate_reversed", "coil_reversed")  # fmt: skip
    fixed = {name: getattr(plan.settings, name) for name in kept}
    again = plan_goal(deflection_tube, goal, fixed=fixed, answers=1)
    assert again.refusal is None
    for knob, window in plan.windows.items():
        assert window.low < getattr(plan.settings, knob) < window.high


@pytest.mark.slow
def test_a_turn_that_nobody_sees_is_refused_with_the_nearest_that_one_does(deflection_tube):
    goal = TurnBack(depth=0.0006, turns=0.7)
    refusal = plan_goal(deflection_tube, goal, remedies="none").refusal
    assert refusal is not None
    assert refusal.nearest_goal is not None
    figures = {figure.name: figure.value for figure in refusal.nearest_check.figures}
    assert figures["comes back by"] > figures["trace width"]


def test_fixed_settings_stay(deflection_tube):
    fixed = {"accelerating_voltage": 3000.0, "plate_tie": "upper at anode"}
    planned = plan_goal(deflection_tube, HEIGHT, fixed=fixed)
    assert [plan.settings.plate_tie for plan in planned.answers] == ["upper at anode"]
    assert planned.answers[0].settings.accelerating_voltage == 3000.0


def test_a_fixed_plate_voltage_leaves_the_accelerating_voltage_to_turn(deflection_tube):
    planned = plan_goal(deflection_tube, HEIGHT, fixed={"plate_voltage": 900.0})
    assert planned.answers
    for plan in planned.answers:
        assert plan.settings.plate_voltage == 900.0
        assert plan.check.figures[0].value == pytest.approx(0.01, abs=0.0005)


def test_fixed_settings_are_checked(deflection_tube):
    with pytest.raises(BenchError, match="did you mean plate_voltage"):
        plan_goal(deflection_tube, HEIGHT, fixed={"plate_voltag": 900.0})
    with pytest.raises(BenchError, match="plate_voltage"):
        plan_goal(deflection_tube, HEIGHT, fixed={"plate_voltage": -1.0})


def test_windows_end_where_the_demonstration_fails(deflection_tube, height_plans):
    for plan in height_plans:
        for knob, window in plan.windows.items():
            value = getattr(plan.settings, knob)
            for end, stop in ((window.low, window.low_stop), (window.high, window.high_stop)):
                if stop != "the picture":
                    assert "rated" in stop
                    continue
                beyond = value + 1.15 * (end - value)
                turned = plan.settings.model_copy(update={knob: beyond})
                assert not HEIGHT.is_met(deflection_tube, turned).ok
                inside = value + 0.8 * (end - value)
                turned = plan.settings.model_copy(update={knob: inside})
                assert HEIGHT.is_met(deflection_tube, turned).ok


def test_a_window_can_end_at_a_rating(deflection_tube, height_plans):
    needed = height_plans[0].settings.plate_voltage
    tube = rerated(deflection_tube, {"plates.max_voltage": 1.02 * needed})
    plan = plan_goal(tube, HEIGHT, fixed={
        "accelerating_voltage": height_plans[0].settings.accelerating_voltage,
        "plate_tie": height_plans[0].settings.plate_tie,
    }).answers[0]  # fmt: skip
    window = plan.windows["plate_voltage"]
    assert window.high == pytest.approx(1.02 * needed)
    assert "the plates are rated" in window.high_stop


def test_sensitivities_are_slopes_of_the_height(deflection_tube, height_plans):
    """To first order y ~ V_p / V_a: 1 % of either changes the height by 1 % (textbook parabola)."""
    by_knob = {each.knob: each for each in height_plans[0].sensitivities}
    assert by_knob["plate_voltage"].per_percent == pytest.approx(1e-4, rel=0.15)
    assert by_knob["accelerating_voltage"].per_percent == pytest.approx(-1e-4, rel=0.15)
    ripple = deflection_tube.bench.supplies.plates.ripple
    assert by_knob["plate_voltage"].ripple == pytest.approx(
        100 * ripple * by_knob["plate_voltage"].per_percent
    )
    assert by_knob["plate_voltage"].meter == pytest.approx(by_knob["plate_voltage"].per_percent)


def test_margins_name_the_ratings(height_plans):
    margins = {(margin.knob, margin.is_floor): margin for margin in height_plans[0].margins}
    assert margins["plate_voltage", False].limit == 4800.0
    assert margins["plate_voltage", False].why == "the plates are rated 4.8 kV"
    assert margins["accelerating_voltage", True].why == "the gun needs at least 450 V"
    assert height_plans[0].least_margin == min(margin.share for margin in margins.values())


def test_the_ideal_answer_is_tried_on_the_bench(deflection_tube, height_plans):
    """Real plates push less than ideal ones: the textbook's voltage falls short of the height."""
    symmetric = next(p for p in height_plans if p.settings.plate_tie == "symmetric")
    ideal = symmetric.ideal
    assert ideal.settings.plate_voltage < symmetric.settings.plate_voltage
    assert ideal.on_bench.measured[0] < 0.01
    again = HEIGHT.is_met(deflection_tube, ideal.settings)
    assert again.figures == ideal.on_bench.figures


def test_the_expected_picture_is_the_forward_models(deflection_tube, height_plans):
    plan = height_plans[0]
    again = deflection_tube.picture(plan.settings)
    assert np.array_equal(plan.picture.image, again.image)


def test_plates_on_the_accelerating_supply_keep_to_its_wiring(deflection_tube):
    fixed = {"plate_source": "accelerating supply"}
    for goal in (HEIGHT, PlateDeflection(0.09, -0.01)):
        for plan in plan_goal(deflection_tube, goal, fixed=fixed).answers:
            assert check_settings(deflection_tube.bench, plan.settings) == ()
            assert plan.settings.plate_tie != "symmetric"


@pytest.mark.slow
def test_both_polarities_make_a_null(deflection_tube):
    goal = StraightBeam.for_bench(deflection_tube.bench)
    answers = plan_goal(deflection_tube, goal, answers=6).answers
    assert {plan.settings.coil_reversed for plan in answers} == {True, False}
    for plan in answers:
        assert plan.settings.signed_plate_voltage * plan.settings.signed_coil_current < 0


def test_a_missing_part_is_a_refusal(axial_coil_tube):
    refusal = plan_goal(axial_coil_tube, HEIGHT).refusal
    assert refusal.binding.text == "the bench has no plates"
    assert refusal.as_dict()["remedies"] == []


def test_switches_that_rule_every_arrangement_out_are_named(deflection_tube):
    refusal = plan_goal(deflection_tube, HEIGHT, fixed={"plate_reversed": True}).refusal
    assert (
        refusal.binding.text == "no arrangement that can do it has the fixed plate_reversed = true"
    )


def test_too_little_current_asks_for_more_turns(deflection_tube):
    tube = rerated(deflection_tube, {"coils.max_current": 0.05})
    goal = CoilDeflection(0.09, 0.012)
    refusal = plan_goal(tube, goal).refusal
    assert refusal.binding.knob == "coil_current"
    assert refusal.binding.limit == 0.05
    assert refusal.binding.text == "the coil pair is rated 50 mA"
    assert 0 < refusal.nearest_goal.height < 0.012
    remedy = next(each for each in refusal.remedies if "turns instead of 343" in each.text)
    rewound = rerated(tube, remedy.bench_changes)
    stronger = tube.fields.flux * rewound.bench.coils.turns / tube.bench.coils.turns
    assert check_settings(rewound.bench, remedy.settings) == ()
    fields = type(tube.fields)(**{**vars(tube.fields), "flux": stronger})
    assert goal.is_met(PreparedBench(rewound.bench, fields, tube.earth), remedy.settings).ok
    changed = remedy.changed(tube.bench)
    assert changed.coils == rewound.bench.coils
    assert changed.name == f"deflection tube, {changed.coils.turns} turns"
    assert remedy.text in changed.notes


def test_too_high_a_fixed_voltage_asks_for_a_lower_one(fine_beam_bulb):
    goal = FullCircle(0.04)
    refusal = plan_goal(fine_beam_bulb, goal, fixed={"accelerating_voltage": 300.0}).refusal
    assert refusal.binding.knob == "coil_current"
    remedy = refusal.remedies[0]
    assert remedy.text.startswith("lower the accelerating voltage to")
    assert remedy.settings.accelerating_voltage < 300.0
    assert goal.is_met(fine_beam_bulb, remedy.settings).ok
    assert check_settings(fine_beam_bulb.bench, remedy.settings) == ()


@pytest.mark.slow
def test_a_knob_fixed_too_low_is_to_be_freed(deflection_tube):
    goal = StraightBeam(0.09, 0.012)
    fixed = {"accelerating_voltage": 3000.0, "coil_current": 0.05}
    refusal = plan_goal(deflection_tube, goal, fixed=fixed).refusal
    assert "deflection by the plates alone" in refusal.binding.text
    freed = next(each for each in refusal.remedies if "coil current" in each.text)
    assert freed.settings.coil_current > 0.05
    assert goal.is_met(deflection_tube, freed.settings).ok


def test_a_weak_supply_asks_for_a_stronger_one(deflection_tube):
    tube = rerated(deflection_tube, {"supplies.plates.max_voltage": 300.0})
    fixed = {"accelerating_voltage": 3000.0}
    refusal = plan_goal(tube, HEIGHT, fixed=fixed, remedies="quick").refusal
    assert refusal.binding.text == "the plate supply gives at most 300 V"
    stronger = [each for each in refusal.remedies if "plate supply" in each.text]
    assert stronger
    assert stronger[0].settings.plate_voltage > 300.0


@pytest.mark.slow
def test_a_low_rating_of_the_plates_asks_for_closer_plates(deflection_tube):
    goal = PlateDeflection(0.09, 0.009)
    # A lower sheet, as the usual one leaves no room for plates that stand much closer.
    tube = rerated(deflection_tube, {"plates.max_voltage": 116.0, "screen.height": "40 mm"})
    refusal = plan_goal(tube, goal).refusal
    remedy = next(each for each in refusal.remedies if "apart instead of 49.0 mm" in each.text)
    assert remedy.bench_changes["plates.gap"] < 0.049
    assert remedy.settings.plate_voltage < 116.0
    assert remedy.check.ok


def test_more_turns_than_the_coil_stands_are_refused(axial_coil_tube):
    fixed = {"accelerating_voltage": 1000.0}
    refusal = plan_goal(axial_coil_tube, HelixFocus(4, 0.002), fixed=fixed).refusal
    assert refusal.binding.text == "the long coil is rated 1.6 A"
    assert refusal.nearest_goal == HelixFocus(3, 0.002)


def test_a_beam_that_must_touch_the_plates_is_refused_for_it(deflection_tube):
    refusal = plan_goal(deflection_tube, PlateDeflection(0.05, 0.018), remedies="none").refusal
    assert "hits the plates" in refusal.binding.text
    assert refusal.binding.knob is None
    assert refusal.nearest_goal.height < 0.018


def test_a_turn_back_turns_forwards(deflection_tube):
    """Seen on a grazed sheet, so E/B > v0/2: the beam never flies backwards."""
    goal = TurnBack.for_bench(deflection_tube.bench)
    for plan in plan_goal(deflection_tube, goal, answers=2).answers:
        ray = deflection_tube.central_ray(plan.settings)
        assert (ray.velocity[:, 0] > 0).all()
        assert plan.figures["comes back by"][0] > plan.figures["trace width"][0]
