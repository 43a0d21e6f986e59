"""How far what acts may be off, and what a bench in order may look like with it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.acting import METER, STRAY, acting_errors
from glowtrace.bench.checking import change
from glowtrace.bench.knowledge import knowledge_of
from glowtrace.bench.learning import Belief, prior
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.faults.library import faults_for
from glowtrace.faults.suspects import appearance_in, draw_changes
from glowtrace.faults.tube import faulty_tube
from glowtrace.faults.variations import AS_SET, Variation

EXACT = ready_made("deflection tube")
UP = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)


def test_an_exact_bench_is_off_by_what_is_usual() -> None:
    found = acting_errors(EXACT, Belief((), np.zeros(0), np.zeros((0, 0))))
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx([METER] * 3 + [STRAY] * 3)


def test_fields_are_off_by_their_meters_and_their_geometry() -> None:
    # GUM (JCGM 100:2008) 5.1.6: relative uncertainties of a product add in squares. B of a pair at
    # a spacing s is as R^2 / (R^2 + s^2/4)^(3/2) (Jackson, Classical Electrodynamics, 5.5), E as
    # 1 / gap.
    bench = change(EXACT, {"plates.gap": "49(1) mm", "coils.mean_radius": "73(1) mm"})
    assert bench.coils is not None
    found = acting_errors(bench, prior(knowledge_of(bench)))
    radius, half = 0.073, bench.coils.spacing / 2  # type: ignore[union-attr]
    by_radius = 2.0 / radius - 3.0 * radius / (radius**2 + half**2)
    expected = [0.005, math.hypot(0.01, 1.0 / 49.0), math.hypot(0.01, by_radius * 1e-3)]
    sizes = np.sqrt(np.diag(found.covariance))
    assert sizes[:3] == pytest.approx(expected, rel=1e-3)
    assert sizes[3:] == pytest.approx([30e-6] * 3)
    drawn = np.array([found.drawn(np.random.default_rng(seed)) for seed in range(400)])
    assert drawn.std(axis=0) == pytest.approx(sizes, rel=0.15)


@pytest.mark.slow
def test_a_bench_in_order_looks_as_different_as_its_doubts_allow() -> None:
    # y ~ V_p / V_a: what is told of the plates' meter is what the height of the line scatters by.
    nothing_else = dict.fromkeys(("accelerating_meter", "coil_meter"), "0") | {"stray_field": "0 T"}
    slack = {f"slack.{name}": size for name, size in nothing_else.items()}
    bench = change(EXACT, slack | {"slack.plate_meter": "0.05"})
    tube = faulty_tube(prepare(bench))
    (fault,) = (each for each in faults_for(bench, UP) if each.group == "nothing" and each.draw)
    state = Variation(AS_SET, UP)
    lifts = [appearance_in(tube, state, each).lift for each in draw_changes(tube, UP, fault, 60, 3)]
    assert np.std(lifts) / np.mean(lifts) == pytest.approx(0.05, rel=0.3)
