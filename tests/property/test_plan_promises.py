"""What every plan promises, whatever the goal and whatever the ratings.

The promises are the project's own: settings within every rating, a goal that is met by its own
check, and a reason wherever there is no answer.
"""

import json

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from glowtrace.bench.checking import change
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import KNOBS, check_settings
from glowtrace.demos.goals import (
    CoilDeflection,
    FullCircle,
    HelixFocus,
    PlateDeflection,
    StraightBeam,
    TurnBack,
)
from glowtrace.plan import plan_goal

FEW = settings(
    max_examples=5,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
heights = st.floats(0.002, 0.02) | st.floats(-0.02, -0.002)
places = st.floats(0.05, 0.104)
sheet_goals = st.one_of(
    st.builds(PlateDeflection, places, heights),
    st.builds(CoilDeflection, places, heights),
    st.builds(StraightBeam, st.floats(0.05, 0.1), st.floats(0.003, 0.015)),
    st.builds(TurnBack, st.floats(0.004, 0.015), st.floats(0.55, 1.5)),
)
voltages = st.none() | st.floats(450.0, 4800.0)


def rerated(tube, changes):
    """The same tube and fields with other ratings."""
    return PreparedBench(change(tube.bench, changes), tube.fields, tube.earth)


def keeps_its_promises(tube, goal, fixed):
    planned = plan_goal(tube, goal, fixed=fixed, answers=1, remedies="none")
    assert bool(planned.answers) == (planned.refusal is None)
    json.dumps(planned.as_dict(), allow_nan=False)
    for answer in planned.answers:
        assert check_settings(tube.bench, answer.settings) == ()
        assert goal.is_met(tube, answer.settings).ok
        for name, value in fixed.items():
            assert getattr(answer.settings, name) == value
        for knob, window in answer.windows.items():
            assert window.low <= getattr(answer.settings, knob) <= window.high
            for end in window[:2]:
                turned = answer.settings.model_copy(update={knob: end})
                assert check_settings(tube.bench, turned) == ()
    if planned.refusal is not None:
        refusal = planned.refusal
        assert refusal.binding.text
        if refusal.nearest_goal is not None:
            assert check_settings(tube.bench, refusal.nearest_settings) == ()
            assert refusal.nearest_goal.is_met(tube, refusal.nearest_settings).ok
    return planned


@FEW
@given(
    goal=sheet_goals,
    voltage=voltages,
    plates=st.floats(200.0, 4900.0),
    current=st.floats(0.05, 1.9),
)
def test_plans_on_a_sheet(deflection_tube, goal, voltage, plates, current):
    tube = rerated(
        deflection_tube,
        {"supplies.plates.max_voltage": plates, "coils.max_current": current},
    )
    fixed = {} if voltage is None else {"accelerating_voltage": voltage}
    keeps_its_promises(tube, goal, fixed)


@FEW
@given(goal=sheet_goals, voltage=voltages)
def test_plans_on_the_accelerating_supply(deflection_tube, goal, voltage):
    tube = rerated(deflection_tube, {"supplies.plates": None})
    fixed = {} if voltage is None else {"accelerating_voltage": voltage}
    planned = keeps_its_promises(tube, goal, fixed)
    for answer in planned.answers:
        plates = answer.settings.plate_voltage
        assert plates <= answer.settings.accelerating_voltage
        assert plates == 0 or answer.settings.plate_source == "accelerating supply"


@FEW
@given(diameter=st.floats(0.02, 0.12), current=st.floats(0.5, 3.0))
def test_plans_in_the_bulb(fine_beam_bulb, diameter, current):
    tube = rerated(fine_beam_bulb, {"coils.max_current": current})
    keeps_its_promises(tube, FullCircle(diameter), {})


@FEW
@given(turns=st.integers(1, 8), current=st.floats(0.1, 1.5))
def test_plans_in_the_axial_coil(axial_coil_tube, turns, current):
    tube = rerated(axial_coil_tube, {"coils.max_current": current})
    keeps_its_promises(tube, HelixFocus(turns, 0.0015), {})


@FEW
@given(goal=sheet_goals, share=st.floats(0.02, 0.5))
def test_a_goal_out_of_reach_names_the_rating_that_stops_it(deflection_tube, goal, share):
    """Ratings below what a plan needs at one accelerating voltage: one of them must be named."""
    fixed = {"accelerating_voltage": 1500.0}
    planned = plan_goal(deflection_tube, goal, fixed=fixed, answers=1, remedies="none")
    if planned.refusal is not None:
        assert planned.refusal.binding.text
        return
    needed = planned.answers[0].settings
    coils = max(0.001, share * needed.coil_current)
    changes = {"coils.max_current": coils} if needed.coil_current else {}
    if needed.plate_voltage:
        changes["plates.max_voltage"] = max(1.0, share * needed.plate_voltage)
    weak = rerated(deflection_tube, changes)
    refusal = plan_goal(weak, goal, fixed=fixed, remedies="none").refusal
    assert refusal is not None
    assert refusal.binding.knob in KNOBS
    assert "is rated" in refusal.binding.text or "are rated" in refusal.binding.text
    assert refusal.binding.needed > refusal.binding.limit
