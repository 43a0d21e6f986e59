"""Errors keep their parts, also when they come from another process."""

from __future__ import annotations

import pickle

import pytest

from glowtrace.errors import BenchError, GlowtraceError, Problem, RatingError, StoreError
from glowtrace.units import QuantityError
from glowtrace.watching import GivenUpError

PROBLEM = Problem("gap", "-1 mm", "give more than 0 mm")
ERRORS = [
    GlowtraceError("There is nothing to print."),
    GlowtraceError(PROBLEM, Problem("length", "0 mm", hint="leave it out")),
    BenchError("bench", [PROBLEM]),
    RatingError("settings", [PROBLEM]),
    StoreError("The database is locked."),
    QuantityError("3 kg", "give a length"),
    GivenUpError(),
]


@pytest.mark.parametrize("error", ERRORS, ids=lambda error: type(error).__name__)
def test_an_error_comes_whole_from_another_process(error: GlowtraceError) -> None:
    copy = pickle.loads(pickle.dumps(error))
    assert type(copy) is type(error)
    assert str(copy) == str(error)
    assert copy.problems == error.problems


def test_a_problem_has_its_parts_and_one_text() -> None:
    error = GlowtraceError(PROBLEM, Problem("length", "0 mm", "give a length", "or leave it out"))
    assert [each.field for each in error.problems] == ["gap", "length"]
    first, second = str(error).splitlines()
    assert first == f"gap: -1 mm is not allowed; {PROBLEM.allowed}"
    assert second.endswith("give a length; or leave it out")


@pytest.mark.parametrize("error", [*ERRORS[:4], ERRORS[5]], ids=lambda error: type(error).__name__)
def test_an_error_of_a_part_keeps_its_text_behind_the_name_of_the_part(
    error: GlowtraceError,
) -> None:
    whole = error.within("second row")
    assert str(whole).splitlines()[0] == f"second row: {str(error).splitlines()[0]}"
    assert len(whole.problems) >= len(error.problems)
