"""The diameter of a circle, as it is taken in and told."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.doubts import Seen
from glowtrace.bench.learning import learn, with_seen
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.web.seen_fold import signed_circle
from glowtrace.words.knowledge import seen_words

KNOBS = Settings(accelerating_voltage=230.0, coil_current=1.7)


def test_the_circle_that_is_foretold_contradicts_nothing() -> None:
    bulb = prepare(change(ready_made("fine-beam bulb"), {"coils.spacing": "163(2) mm"}))
    size = abs(bulb.line_turn(KNOBS))
    seen = signed_circle(bulb, Seen(what="circle", settings=KNOBS, y=size, uncertainty=0.5e-3))
    learnt = learn(replace(bulb, bench=with_seen(bulb.bench, [seen])))
    assert not learnt.is_contradicted
    assert learnt.residuals[0] == pytest.approx(0.0, abs=1e-6)


def test_a_circle_below_the_axis_is_kept_with_its_sign_and_told_without() -> None:
    bent_down: Any = SimpleNamespace(line_turn=lambda _: -0.08)
    seen = Seen(what="circle", settings=KNOBS, y=0.077, uncertainty=0.5e-3)
    kept = signed_circle(bent_down, seen)
    assert kept.y == -0.077
    assert seen_words(kept).startswith("diameter of the circle: 77.0(5) mm")
