"""The table of suspects: chances that are chances, and sightings that make sense.

The axioms of probability are the outside reference; nothing else is needed.
"""

from __future__ import annotations

import numpy as np
import pytest

from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError
from glowtrace.faults import Sighting, look_alikes, next_checks, prepare_suspects, rank
from glowtrace.faults.condition import Displacement
from glowtrace.faults.invented import invent_case
from glowtrace.faults.ranking import outcome_chances

SETTINGS = {
    "deflection_tube": Settings(accelerating_voltage=3000.0, plate_voltage=900.0, coil_current=0.1),
    "fine_beam_bulb": Settings(accelerating_voltage=210.0, coil_current=1.6),
    "axial_coil_tube": Settings(accelerating_voltage=640.0, coil_current=0.35),
}


@pytest.fixture(scope="module", params=SETTINGS)
def suspects(request):
    bench = request.getfixturevalue(request.param)
    return prepare_suspects(bench, SETTINGS[request.param], draws=3)


def test_every_statement_has_a_chance_under_every_fault(suspects):
    for statement in suspects.statements:
        for one in suspects.suspects:
            for chance in (
                statement.chance(one.looks, suspects.usual),
                statement.silence(one.looks, suspects.usual),
            ):
                assert ((chance > 0.0) & (chance <= 1.0)).all(), (statement.key, one.fault.key)


def test_outcomes_of_every_check_add_up_to_one_under_every_fault(suspects):
    ranking = rank(suspects, Sighting())
    for check in suspects.checks:
        for key, chances in outcome_chances(ranking, check).items():
            assert (chances > 0.0).all(), (check.key, key)
            assert chances.sum(axis=1) == pytest.approx(np.ones(len(chances))), (check.key, key)


def test_every_check_could_tell_something(suspects):
    """A check whose outcomes are the same for all faults would be a waste of a lesson."""
    assert all(one.information > 0.01 for one in next_checks(rank(suspects, Sighting())))


def test_prospects_of_a_check_add_up_to_one(suspects):
    for advice in next_checks(rank(suspects, Sighting())):
        assert sum(one.probability for one in advice.prospects) == pytest.approx(1.0)
        assert all(one.meaning.startswith("Then most likely: ") for one in advice.prospects)


def test_what_a_statement_tells_is_a_check_of_the_bench(suspects):
    checks = {check.key for check in suspects.checks}
    statements = {statement.key for statement in suspects.statements}
    for statement in suspects.statements:
        assert set(statement.tells) <= checks
        assert set(statement.includes) <= statements


def test_a_check_that_a_statement_has_told_is_not_asked_for(suspects):
    for statement in suspects.statements:
        ranking = rank(suspects, Sighting(seen=(statement.key,)))
        asked = {one.check.key for one in next_checks(ranking)}
        assert not asked & set(statement.tells)


def test_a_line_drawn_in_another_state_tells_that_check(suspects):
    drawn = (("coil current", ((0.02, 0.0), (0.04, 0.001), (0.06, 0.0))),)
    asked = next_checks(rank(suspects, Sighting(other_lines=drawn)))
    assert "coil current" not in {one.check.key for one in asked}


def test_an_invented_case_is_the_same_each_time(suspects):
    fault = suspects.suspects[1].fault
    one, again = (invent_case(suspects, fault, 5) for _ in range(2))
    assert one.sighting == again.sighting
    check = suspects.checks[0]
    assert one.answer(check) == again.answer(check) in check.outcomes
    assert invent_case(suspects, fault, 6).sighting != one.sighting


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"seen": ("line glows green",)}, "seen"),
        ({"not_seen": ("nothing",)}, "not_seen"),
        ({"other_lines": (("coil curent", ((0.0, 0.0),)),)}, "did you mean coil current"),
        ({"line": ((0.0, float("nan")),)}, "give u and v in m"),
        ({"line_error": 0.0}, "give a length above 0 m"),
    ],
)
def test_a_sighting_that_makes_no_sense_is_refused(suspects, wrong, told):
    with pytest.raises(BenchError, match=told):
        rank(suspects, Sighting(**wrong))


def test_all_that_is_wrong_with_a_sighting_is_told_together(suspects):
    with pytest.raises(BenchError) as caught:
        rank(suspects, Sighting(seen=("a",), not_seen=("b",), line_error=-1.0))
    assert len(caught.value.problems) == 3


def test_a_sighting_that_says_nothing_knows_it():
    assert Sighting().says_nothing
    assert not Sighting(other_lines=(("coil current", ((0.0, 0.0),)),)).says_nothing


def test_a_statement_and_its_denial_shift_the_ranking_apart(suspects):
    key = "no light at all"
    seen = rank(suspects, Sighting(seen=(key,))).probabilities["heater cold"]
    denied = rank(suspects, Sighting(not_seen=(key,))).probabilities["heater cold"]
    before = rank(suspects, Sighting()).probabilities["heater cold"]
    assert denied < before < seen


def test_a_displacement_shrinks_in_all_its_parts():
    small = Displacement(0.2, -0.4, (0.01, 0.0, -0.02)).shrunk(0.5)
    assert small == Displacement(0.1, -0.2, (0.005, 0.0, -0.01))


def test_a_check_is_told_by_denials_only_if_all_that_tell_it_are_denied(suspects):
    shows_less = "the high-tension meter shows less than is set"
    both = (shows_less, "the high-tension meter shows nothing")
    asked = {one.check.key for one in next_checks(rank(suspects, Sighting(not_seen=both[:1])))}
    assert "high-tension meter" in asked
    asked = {one.check.key for one in next_checks(rank(suspects, Sighting(not_seen=both)))}
    assert "high-tension meter" not in asked


def test_faults_that_leave_the_tube_dark_look_alike_and_a_check_tells_them(suspects):
    what = "spot" if any("spot" in one.key for one in suspects.statements) else "line"
    seen = (f"light from the filament but no {what}",)
    ranking = rank(suspects, Sighting(seen=seen))
    alike = {one.fault.key: one.check for one in look_alikes(ranking, "no high tension")}
    assert alike["high tension reversed"].key == "high-tension meter"
    assert "heater cold" not in alike
    assert look_alikes(ranking, "something else") == ()
