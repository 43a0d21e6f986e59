"""What a few readings of hidden tubes teach, as shares of many such tubes.

Coverage is what 95 % means (GUM, JCGM 100:2008, 6.2); how much narrower is what this tool promises.
The hidden tubes are flown as whole electrons in fields that are linear in the numbers, which
`benchmarks/band_coverage.py` compares with fields solved anew.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from band_coverage import KNOBS, known_bench, settings_of
from glowtrace.bench.doubts import Seen
from glowtrace.bench.knowledge import knowledge_of
from glowtrace.bench.learning import learn, narrowed, noise_at, prior
from glowtrace.bench.line_response import line_response, shifted_path
from glowtrace.bench.observing import next_observations
from glowtrace.bench.prediction import FACTOR
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.settings import Settings

Place = tuple[Settings, float]
X, READ_TO, NOBODY_SAID = 0.095, 0.5e-3, 30e-6
SEEN_AT: list[Place] = [(settings_of(*KNOBS[name]), X) for name in ("plates", "coils", "null")]
LINES: list[Place] = [
    (settings_of(*knobs), 0.08)
    for knobs in (
        (2000.0, 800.0, 0.0), (4000.0, 1500.0, -0.1), (3000.0, 0.0, -0.25), KNOBS["crossed"]
    )
]  # fmt: skip
TURN_BACK: Place = (settings_of(1500.0, 4190.0, -0.918), 0.06)
"""As `plan` sets it, at the deepest point of the dip."""


@pytest.fixture(scope="module")
def tube() -> PreparedBench:
    return prepare(known_bench())


def hidden_tubes(
    tube: PreparedBench, count: int, stray: float | None = None
) -> Iterator[np.ndarray]:
    """Draw numbers as uncertain as they are told; the stray field across the line may be given."""
    names, sizes = tube.effects.names, knowledge_of(tube.bench).uncertainties
    for hidden in np.random.default_rng(17).standard_normal((count, len(names))) * sizes:
        if stray is not None:
            hidden[[names.index(f"slack.stray_field[{axis}]") for axis in range(3)]] = (
                0.0,
                0.0,
                stray,
            )
        yield hidden


def heights(tube: PreparedBench, numbers: np.ndarray, places: list[Place]) -> np.ndarray:
    """Give the heights of the line on the hidden tube, in m."""
    lift = numbers[tube.effects.names.index("slack.grid_height")]
    found = []
    for settings, x in places:
        there, own = (
            shifted_path(tube, tube.effects, settings, by).height_at(x)
            for by in (numbers, 0.0 * numbers)
        )
        found.append(tube.line_height(settings, x) + there - own + lift)
    return np.array(found)


def row_at(tube: PreparedBench, place: Place) -> np.ndarray:
    change = line_response(tube, tube.effects, place[0]).at_x(place[1])
    assert change is not None
    return change[:, 0]


def read(places: list[Place], values: np.ndarray, scatter: np.ndarray) -> list[Seen]:
    return [
        Seen(settings=settings, x=x, y=value + READ_TO * by, uncertainty=READ_TO)
        for (settings, x), value, by in zip(places, values, scatter, strict=True)
    ]


def learnt_on_lines(
    tube: PreparedBench, count: int, stray: float | None = None
) -> tuple[float, float]:
    """Give coverage at lines that were not read, and how many times narrower they are (median)."""
    before, rows = prior(knowledge_of(tube.bench)), [row_at(tube, each) for each in LINES]
    own = heights(tube, np.zeros(len(before.names)), LINES)
    generator = np.random.default_rng(18)
    inside, narrower = [], []
    for hidden in hidden_tubes(tube, count, stray):
        values = heights(tube, hidden, SEEN_AT)
        belief = learn(tube, read(SEEN_AT, values, generator.standard_normal(3))).after
        off = heights(tube, hidden, LINES) - own
        for row, by in zip(rows, off, strict=True):
            inside.append(abs(by - row @ belief.shift) <= FACTOR * belief.size(row))
            narrower.append(before.size(row) / belief.size(row))
    return float(np.mean(inside)), float(np.median(narrower))


@pytest.mark.thorough
def test_hidden_tubes_lie_within_what_was_learnt(tube: PreparedBench) -> None:
    coverage, narrower = learnt_on_lines(tube, 300)
    print(f"three points: coverage {coverage:.3f}, {narrower:.2f} times narrower")
    assert 0.93 <= coverage <= 0.97
    assert narrower > 1.7


@pytest.mark.thorough
@pytest.mark.parametrize("stray", [NOBODY_SAID, -NOBODY_SAID])
def test_a_stray_field_that_nobody_mentioned_leaves_the_bands_true(
    tube: PreparedBench, stray: float
) -> None:
    coverage, _ = learnt_on_lines(tube, 300, stray)
    print(f"stray field of {1e6 * stray:.0f} uT: coverage {coverage:.3f}")
    assert coverage > 0.93


def test_the_proposed_reading_narrows_a_turn_back_more_than_any_other(tube: PreparedBench) -> None:
    belief = prior(knowledge_of(tube.bench))
    for place in SEEN_AT:
        belief = narrowed(belief, row_at(tube, place), noise_at(READ_TO, place[1]))
    found = next_observations(tube, *TURN_BACK, belief=belief)
    gains = [each.narrower for each in found]
    assert gains == sorted(gains, reverse=True)
    assert gains[0] > 1.5 * np.median(gains)
    elsewhere = [each.narrower for each in found if each.settings != TURN_BACK[0]]
    assert elsewhere[0] > 1.5


@pytest.mark.thorough
def test_the_proposed_reading_narrows_what_is_planned(tube: PreparedBench) -> None:
    """300 tubes, three points and then one more: the proposed one, or any of the others."""
    before, row = prior(knowledge_of(tube.bench)), row_at(tube, TURN_BACK)
    (own,) = heights(tube, 0.0 * before.shift, [TURN_BACK])
    generator = np.random.default_rng(19)
    three, proposed, other, inside = [], [], [], []
    for hidden in hidden_tubes(tube, 300):
        values = heights(tube, hidden, SEEN_AT)
        seen = read(SEEN_AT, values, generator.standard_normal(3))
        belief = learn(tube, seen).after
        found = next_observations(tube, *TURN_BACK, belief=belief)
        three.append(before.size(row) / belief.size(row))
        for chosen, narrower in (
            (found[0], proposed), (found[int(generator.integers(1, len(found)))], other)
        ):  # fmt: skip
            place = chosen.settings, chosen.x
            value = heights(tube, hidden, [place])
            if not np.isfinite(value).all():  # on this tube the line ends before
                continue
            more = read([place], value, generator.standard_normal(1))
            after = learn(tube, [*seen, *more]).after
            narrower.append(before.size(row) / after.size(row))
            if narrower is proposed:
                off = heights(tube, hidden, [TURN_BACK])[0] - own - row @ after.shift
                inside.append(abs(off) <= FACTOR * after.size(row))
    print(
        f"turn-back: {np.median(three):.2f} times narrower by three points, "
        f"{np.median(proposed):.2f} with the proposed one, {np.median(other):.2f} with another; "
        f"coverage {np.mean(inside):.3f} of {len(inside)}"
    )
    assert np.median(proposed) > 1.5 * np.median(other)
    assert np.mean(inside) > 0.93
