"""Planning and explaining tell how far they are, and end once they are given up. Own rules."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pytest

from glowtrace.bench.settings import Settings
from glowtrace.demos.goals import CoilDeflection, FullCircle
from glowtrace.explain.differences import find_differences
from glowtrace.explain.spread import find_spread
from glowtrace.plan import plan_goal
from glowtrace.watching import GivenUpError

SETTINGS = Settings(accelerating_voltage=200.0, coil_current=1.5)


@pytest.fixture(params=["width", "differences", "plan", "refusal"])
def long_work(request, fine_beam_bulb) -> Callable[..., object]:
    works = {
        "width": partial(find_spread, fine_beam_bulb, SETTINGS, electrons=40, seeds=2),
        "differences": partial(find_differences, fine_beam_bulb, SETTINGS),
        "plan": partial(plan_goal, fine_beam_bulb, CoilDeflection.for_bench(fine_beam_bulb.bench)),
        "refusal": partial(
            plan_goal, fine_beam_bulb, FullCircle(0.03), fixed={"accelerating_voltage": 300.0}
        ),
    }
    return works[request.param]


def test_long_work_tells_how_far_it_is(long_work):
    told: list[float] = []
    long_work(progress=lambda share, words: told.append(share))
    assert len(told) >= 4
    assert told == sorted(told)
    assert told[0] < 0.1
    assert 0.6 < told[-1] <= 1.0


def test_given_up_it_ends_at_the_next_look(long_work):
    looks = []

    def cancelled() -> bool:
        looks.append(True)
        return len(looks) == 3

    with pytest.raises(GivenUpError):
        long_work(cancelled=cancelled)
    assert len(looks) == 3
