"""The order with the fewest changes of leads, against all orders tried one by one."""

from __future__ import annotations

import random
from itertools import pairwise, permutations

import pytest

from glowtrace.errors import GlowtraceError
from glowtrace.shots.order import changed, fewest_changes, lead


def cost(order, wirings) -> int:
    stood = [wirings[place] for place in order if wirings[place] is not None]
    return sum(len(one ^ other) for one, other in pairwise(stood))


@pytest.mark.parametrize("seed", range(8))
def test_no_other_order_changes_fewer_leads(seed):
    draw = random.Random(seed)
    kinds = [frozenset(lead(f"a{n}", f"b{draw.randrange(3)}") for n in range(4)) for _ in range(4)]
    wirings = [None, None, *(draw.choice(kinds) for _ in range(5))]
    order = fewest_changes(wirings)
    assert sorted(order) == list(range(7))
    assert order[:2] == (0, 1)
    fewest = min(cost((0, 1, *rest), wirings) for rest in permutations(range(2, 7)))
    assert cost(order, wirings) == fewest


def test_one_wiring_keeps_the_story():
    wiring = frozenset({lead("anode", "plate")})
    assert fewest_changes([None, wiring, wiring, wiring]) == (0, 1, 2, 3)


def test_two_wirings_in_turn_are_filmed_one_after_the_other():
    one, other = frozenset({lead("a", "b")}), frozenset({lead("a", "c")})
    assert fewest_changes([one, other, one, other]) == (0, 2, 1, 3)
    assert changed(one, other).off == (("a", "b"),)
    assert changed(one, other).on == (("a", "c"),)


def test_too_many_wirings_are_refused():
    with pytest.raises(GlowtraceError, match="up to 12"):
        fewest_changes([frozenset({lead("a", str(n))}) for n in range(13)])
