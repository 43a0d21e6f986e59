"""Words, counts and settings that make no sense are refused by name at every public entry.

The wording is the project's own; no outside source.
"""

from __future__ import annotations

import pytest

import glowtrace
from glowtrace import Settings, outcome_map, plan_goal, prepare
from glowtrace.bench.checking import change, check
from glowtrace.bench.files import bench_from_toml, bench_to_toml
from glowtrace.bench.parts import Plates
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.wrong_fields import meant_name
from glowtrace.demos.goals import FullCircle, PlateDeflection
from glowtrace.errors import BenchError, GlowtraceError
from glowtrace.explain.explanation import explain
from glowtrace.measure.experiment import experiment

BEAM = Settings(accelerating_voltage=3000.0)
CALLS = {
    "field": lambda tube, model: tube.field(BEAM, model),
    "picture": lambda tube, model: tube.picture(BEAM, model=model),
    "dark picture": lambda tube, model: tube.picture(
        Settings(accelerating_voltage=0.0), model=model
    ),
    "central ray": lambda tube, model: tube.central_ray(BEAM, model=model),
    "explain": lambda tube, model: explain(tube, BEAM, model=model),
    "plan": lambda tube, model: plan_goal(tube, PlateDeflection(0.1, 0.01), model=model),
    "map": lambda tube, model: outcome_map(
        tube, BEAM, "accelerating_voltage", "coil_current", size=(2, 2), model=model
    ),
    "measure": lambda tube, model: experiment(tube, (), model=model),
}


@pytest.mark.parametrize("entry", CALLS)
@pytest.mark.parametrize(
    ("model", "hint"), [("Ideal", "did you mean ideal?"), ("real", ""), (None, ""), (1, "")]
)
def test_a_wrong_model_is_refused(deflection_tube, entry, model, hint):
    if entry == "measure" and model is None:
        pytest.skip("without a model a fit takes that of its apparatus")
    with pytest.raises(GlowtraceError) as refusal:
        CALLS[entry](deflection_tube, model)
    told = str(refusal.value)
    assert told.startswith("model: ")
    assert '"bench" or "ideal"' in told
    assert hint in told


@pytest.mark.parametrize(
    "call",
    [
        lambda tube, wrong: tube.picture(wrong),
        lambda tube, wrong: tube.central_ray(wrong),
        lambda tube, wrong: tube.line_height(wrong, 0.05),
        glowtrace.predict,
        glowtrace.run_sheet,
        explain,
        lambda tube, wrong: glowtrace.sweep(tube, wrong, coil_current=[0.1]),
        lambda tube, wrong: outcome_map(tube, wrong, "accelerating_voltage", "coil_current"),
        lambda tube, wrong: glowtrace.wire(tube.bench, wrong),
        lambda tube, wrong: glowtrace.check_safety(tube.bench, wrong),
        lambda tube, wrong: glowtrace.textbook_trace(tube.bench, wrong),
        lambda tube, wrong: glowtrace.save_settings(wrong, "never.toml"),
    ],
)
@pytest.mark.parametrize("wrong", ["text", None, {"accelerating_voltage": 3000.0}])
def test_what_is_no_settings_is_refused(deflection_tube, call, wrong):
    with pytest.raises(GlowtraceError, match=r"^settings: .*give settings, such as Settings\("):
        call(deflection_tube, wrong)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda wrong: plan_goal(wrong, "null"), "prepared"),
        (lambda wrong: glowtrace.sweep(wrong, BEAM, coil_current=[0.1]), "prepared"),
        (lambda wrong: glowtrace.predict(wrong, BEAM), "prepared"),
        (lambda wrong: glowtrace.run_sheet(wrong, BEAM), "prepared"),
        (glowtrace.learn, "prepared"),
        (glowtrace.knowledge_of, "bench"),
        (lambda wrong: glowtrace.wire(wrong, BEAM), "bench"),
        (lambda wrong: glowtrace.check_safety(wrong, BEAM), "bench"),
        (lambda wrong: glowtrace.textbook_trace(wrong, BEAM), "bench"),
        (lambda wrong: glowtrace.save_bench(wrong, "never.toml"), "bench"),
        (lambda wrong: glowtrace.fit_specific_charge("circle", wrong), "bench"),
        (lambda wrong: experiment(wrong, (), model="bench"), "bench"),
    ],
)
@pytest.mark.parametrize("wrong", ["deflection tube", None, BEAM])
def test_what_is_no_bench_is_refused(call, field, wrong):
    with pytest.raises(GlowtraceError, match=rf"^{field}: .*give a bench"):
        call(wrong)


@pytest.mark.parametrize(
    ("given", "meant"),
    [
        ("no lin", "light and no line"),  # the one that holds it
        ("dar", "dark"),  # the one that begins with it
        ("line", None),  # several hold it
        ("no", None),  # too short to tell
        ("drak", "dark"),  # letters exchanged
    ],
)
def test_a_part_of_a_name_stands_for_it_where_it_is_the_only_one(given, meant):
    known = ["dark", "light and no line", "line bends up", "line bends down", "a dark room"]
    assert meant_name(given, known) == meant


@pytest.mark.parametrize("wrong", [0, -3, 2.5, True, "many", float("nan"), float("inf")])
def test_a_wrong_number_of_electrons_is_refused(deflection_tube, wrong):
    with pytest.raises(GlowtraceError, match=r"^electrons: .*whole number, 1 or more"):
        deflection_tube.picture(BEAM, electrons=wrong)
    with pytest.raises(GlowtraceError, match=r"^electrons: .*whole number, 4 or more"):
        outcome_map(deflection_tube, BEAM, "accelerating_voltage", "coil_current", electrons=wrong)


def test_other_counts_are_refused(deflection_tube):
    with pytest.raises(GlowtraceError, match=r"^seed: "):
        deflection_tube.picture(BEAM, seed=-1)
    with pytest.raises(GlowtraceError, match=r"^paths: "):
        deflection_tube.picture(BEAM, paths=-1)
    with pytest.raises(GlowtraceError, match=r"^samples: "):
        deflection_tube.central_ray(BEAM, samples=2)


def test_a_wrong_name_of_a_setting_is_refused():
    with pytest.raises(BenchError) as refusal:
        Settings(accelerating_voltage=3000.0, coil_curent=0.1, plate_tie="left")
    given = {problem.field: problem.allowed for problem in refusal.value.problems}
    assert given["coil_curent"] == "did you mean coil_current?"
    assert '"lower at anode"' in given["plate_tie"]
    with pytest.raises(BenchError, match="did you mean gap"):
        Plates(length=0.1, width=0.1, gapp=0.1, start=0.01, max_voltage=100.0)


@pytest.mark.parametrize(
    ("knob", "most"),
    [("accelerating_voltage", 60e3), ("plate_voltage", 60e3), ("coil_current", 100.0)],
)
def test_absurd_settings_are_refused(knob, most):
    sound = {"accelerating_voltage": 3000.0}
    assert getattr(Settings(**sound | {knob: most}), knob) == most == Settings.highest(knob)
    for absurd in (most * (1 + 1e-12), 1e9, 1e155, 1e300, float("inf"), float("nan")):
        with pytest.raises(BenchError) as refusal:
            Settings(**sound | {knob: absurd})
        assert [problem.field for problem in refusal.value.problems] == [knob]
        with pytest.raises(BenchError):
            check(Settings, sound | {knob: absurd}, "settings")


def test_a_range_beyond_every_bench_is_refused(deflection_tube):
    with pytest.raises(GlowtraceError, match="range of the coil current"):
        outcome_map(
            deflection_tube, BEAM, "accelerating_voltage", "coil_current", y_range=(0.0, 1e200)
        )


@pytest.mark.parametrize("wrong", ["deflection tube", None, {"gun": {}}])
def test_only_a_bench_is_prepared(wrong):
    with pytest.raises(GlowtraceError, match="ready_made"):
        prepare(wrong)


def test_a_file_that_tells_the_place_of_the_anode_is_read_where_that_is_zero():
    text = bench_to_toml(ready_made("deflection tube"))
    assert "anode_position" not in text
    for zero in ('"0 mm"', '"-0.0 cm"'):
        old = text.replace("[gun]", f"[gun]\nanode_position = {zero}")
        assert bench_from_toml(old, "old.toml") == ready_made("deflection tube")


@pytest.mark.parametrize("given", ["-10 mm", "10 mm", "a bit", -0.01])
def test_a_file_with_the_anode_elsewhere_is_told_what_to_do(given):
    with pytest.raises(BenchError) as refusal:
        change(ready_made("deflection tube"), {"gun.anode_position": given})
    (problem,) = refusal.value.problems
    assert problem.field == "gun.anode_position"
    assert "x = 0" in problem.allowed


def test_a_goal_is_planned_by_its_name(fine_beam_bulb):
    named = plan_goal(fine_beam_bulb, "full circle", answers=1, model="ideal")
    told = plan_goal(
        fine_beam_bulb, FullCircle.for_bench(fine_beam_bulb.bench), answers=1, model="ideal"
    )
    assert named.answers[0].settings == told.answers[0].settings
    (reason,) = [plan_goal(fine_beam_bulb, "null").refusal.binding.text]
    assert "plates" in reason


@pytest.mark.parametrize("goal", ["nul", "", "\udcff"])
def test_an_unknown_goal_is_refused_with_those_there_are(fine_beam_bulb, goal):
    with pytest.raises(GlowtraceError, match="null"):
        plan_goal(fine_beam_bulb, goal)


def test_a_bench_that_was_not_prepared_is_refused_by_planning():
    with pytest.raises(GlowtraceError, match="prepare"):
        plan_goal(ready_made("deflection tube"), "null")
