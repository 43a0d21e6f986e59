"""Maps as figures: every outcome is told apart by colour, by hatching and in words."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.demos.classification import FOCUSES, KINDS
from glowtrace.plan import OutcomeMap, RatingLine
from glowtrace.report.look import DARK, PRINT
from glowtrace.report.outcome_figure import draw_outcome_map, outcome_map_bytes
from glowtrace.report.outcome_fills import FILLS, fill_of

TUBE = ready_made("deflection tube")
SEEN_TOGETHER = {
    "sheet": set(KINDS) - {"hits the glass", "full circle", "spot on the screen", *FOCUSES},
    "gas glow": {"no beam", "hits the glass", "hits the upper plate", "hits the lower plate",
                 "returns to the anode", "keeps flying", "full circle"},
    "end face": set(KINDS) - {"hits the glass", "full line", "null", "turns back",
                                 "full circle"},
}  # fmt: skip


@pytest.fixture
def outcome():
    """A map of two regions, with a rating in the middle."""
    codes = np.full((20, 30), KINDS.index("full line"), dtype=np.int8)
    codes[:, 18:] = KINDS.index("hits the lower plate")
    return OutcomeMap(
        settings=Settings(accelerating_voltage=3000.0),
        model="bench",
        knob_x="coil_current",
        knob_y="plate_voltage",
        x=np.linspace(0.0, 0.6, 30),
        y=np.linspace(0.0, 6e3, 20),
        codes=codes,
        labels=KINDS,
        ratings=(RatingLine("the plates are rated 4.8 kV", (0.0, 5e3), (0.6, 5e3), "below"),),
        is_complete=True,
    )


def test_every_outcome_has_a_fill():
    assert set(FILLS) == set(KINDS)


@pytest.mark.parametrize("view", SEEN_TOGETHER)
@pytest.mark.parametrize("look", [DARK, PRINT], ids=["dark", "print"])
def test_outcomes_that_can_stand_side_by_side_differ_in_colour_and_hatching(view, look):
    for one, other in combinations(sorted(SEEN_TOGETHER[view]), 2):
        first, second = fill_of(one, look), fill_of(other, look)
        apart = np.abs(np.array(to_rgb(first.colour)) - to_rgb(second.colour)).max()
        assert apart > 0.04, (one, other)
        # Only a dark empty ground and one bright fill go without hatching.
        assert first.hatch != second.hatch or "no beam" in (one, other), (one, other)


@pytest.mark.parametrize("look", [DARK, PRINT], ids=["dark", "print"])
def test_figure_has_the_words_of_regions_ratings_and_settings(outcome, look):
    figure = draw_outcome_map(outcome, TUBE, look=look)
    (axes,) = figure.axes
    written = {text.get_text() for text in (*axes.texts, *figure.texts)}
    assert {
        "full line",
        "hits the lower plate",
        "the plates are rated 4.8 kV",
        TUBE.name,
    } <= written
    assert any("accelerating 3 kV" in words for words in written)
    legend = [text.get_text() for text in axes.get_legend().get_texts()]
    assert legend == ["full line, 60 %", "hits the lower plate, 40 %"]
    assert axes.get_xlabel() == "coil current / mA"
    assert axes.get_ylabel() == "plate voltage / kV"


def test_map_that_was_broken_off_says_so(outcome):
    codes = outcome.codes.copy()
    codes[5:] = -1
    figure = draw_outcome_map(replace(outcome, codes=codes, is_complete=False), TUBE)
    assert any("Broken off" in text.get_text() for text in figure.texts)


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_same_map_gives_the_same_bytes(outcome, kind):
    assert outcome_map_bytes(outcome, TUBE, kind=kind) == outcome_map_bytes(
        outcome, TUBE, kind=kind
    )
