"""The printed grid is found rightly or not at all, whatever stands in the way.

The truth is a camera (a pinhole with a radially distorting lens) that shares no code with the
finder.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from photograph_trial import BENCHES, KINDS, SOUND, furthest_off, trial, verdict
from scipy.spatial import KDTree

from glowtrace.photographs.grid import fit_screen_map
from glowtrace.photographs.grid_finding import find_grid, refine_grid
from glowtrace.photographs.grid_lines import grey
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.photographs.trace_line_extraction import extract_line
from glowtrace.web.measure.photograph_work import PhotographWork


@pytest.mark.slow
@pytest.mark.parametrize(
    ("bench", "kind", "seed"),
    [
        ("deflection tube", "cast", 1),
        ("deflection tube", "oblique", 3),
        pytest.param("deflection tube", "lit room", 0, marks=pytest.mark.thorough),
        pytest.param("fine-beam bulb", "glare", 0, marks=pytest.mark.thorough),
        pytest.param("deflection tube", "dim", 0, marks=pytest.mark.thorough),
        pytest.param("fine-beam bulb", "dim", 3, marks=pytest.mark.thorough),
    ],
)
def test_a_sound_grid_is_found_and_is_right(bench, kind, seed):
    outcome, found = verdict(trial(bench, kind, seed))
    assert outcome == "right", found.says
    assert found.screen_map.rms_residual < 0.5


@pytest.mark.thorough
@pytest.mark.slow
def test_where_only_the_labels_are_unclear_one_click_is_enough():
    # Both ends of the grid lie outside the photograph.
    one = trial("deflection tube", "cut off", 0)
    light = grey(one.photograph)
    alone = find_grid(light, one.grid)
    assert alone.screen_map is None
    assert alone.needs_label
    assert alone.says.endswith("click one crossing that you know")
    at = (0.06, 0.0)
    column, row = one.camera.pixels([at])[0]
    told = find_grid(light, one.grid, known=[GridPoint(*at, column + 2.0, row - 2.0)])
    assert told.screen_map is not None, told.says
    assert furthest_off(told.screen_map, one) < 0.03
    between = one.camera.pixels([(0.065, 0.005)])[0]
    nowhere = find_grid(light, one.grid, known=[GridPoint(*at, *between)])
    assert nowhere.screen_map is None
    assert "no crossing is seen at the click" in nowhere.says


@pytest.mark.thorough
def test_the_page_asks_for_one_click_and_the_next_search_knows_it():
    one = trial("deflection tube", "cut off", 0)
    at = (0.06, 0.0)
    column, row = one.camera.pixels([at])[0]
    work = PhotographWork(one.photograph, one.grid).found_grid()
    assert work.needs_label
    clicked = work.choose(at).click(column, row).found_grid()
    assert clicked.screen_map is not None
    assert not clicked.needs_label


def test_a_map_that_is_near_is_brought_onto_the_lines():
    one = trial("deflection tube", "lit room", 0)
    light = grey(one.photograph)
    places = [(0.02, -0.02), (0.1, -0.02), (0.1, 0.02), (0.02, 0.02)]
    clicks = one.camera.clicks(places, uncertainty=4.0, seed=1)
    near = fit_screen_map(one.photograph, clicks, one.grid.rectangle)
    assert furthest_off(near, one) > 0.03
    again = refine_grid(light, near, one.grid)
    assert again.screen_map is not None, again.says
    assert furthest_off(again.screen_map, one) < 0.02


def test_a_sheet_without_a_grid_has_none():
    rng = np.random.default_rng(0)
    light = 0.1 + 0.01 * rng.normal(size=(480, 640))
    found = find_grid(light, trial("deflection tube", "sound", 0).grid)
    assert found.screen_map is None
    assert "click four or more" in found.says


@pytest.mark.thorough
@pytest.mark.parametrize("bench", BENCHES)
def test_no_grid_is_found_wrongly_and_sound_ones_are_found(bench):
    # 80 photographs of a bench, each made from its own seed.
    count = {kind: Counter(verdict(trial(bench, kind, n))[0] for n in range(10)) for kind in KINDS}
    assert sum(each["wrong"] for each in count.values()) == 0, count
    for kind in SOUND:
        assert count[kind]["right"] >= 8, (kind, count)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, pytest.param(4, marks=pytest.mark.thorough)])
def test_a_line_does_not_run_through_a_hand(seed):
    one = trial("deflection tube", "hand", seed)
    places = [(u, v) for u in one.grid.u for v in one.grid.v]
    clicks = one.camera.clicks(places, uncertainty=0.2)
    screen_map = fit_screen_map(one.photograph, clicks, one.grid.rectangle, lens=True)
    line = extract_line(one.photograph, screen_map, grid_pitch=one.grid.pitch)
    assert len(line) > 40
    # Nowhere further from the line that was drawn than a part of its width, 0.6 mm.
    off, _ = KDTree(one.light.curve).query(line.places)
    assert off.max() < 0.3e-3
    # Fingers cover a fifth of it or more; there nothing is read.
    u, v = line.places.T
    for u0, v0, u1, v1, half in one.conditions.hand:
        along = np.clip((u - u0) * (u1 - u0) + (v - v0) * (v1 - v0), 0.0, None)
        share = np.clip(along / ((u1 - u0) ** 2 + (v1 - v0) ** 2), 0.0, 1.0)
        away = np.hypot(u - u0 - share * (u1 - u0), v - v0 - share * (v1 - v0))
        assert (away > half).all()
