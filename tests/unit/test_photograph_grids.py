"""The printed grid is found rightly or not at all, whatever stands in the way.

The truth is a camera (a pinhole with a radially distorting lens) that shares no code with the
finder.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from photograph_trial import BENCHES, KINDS, SOUND, furthest_off, trial, verdict

from glowtrace.photographs.grid import fit_screen_map
from glowtrace.photographs.grid_finding import find_grid, refine_grid
from glowtrace.photographs.grid_lines import grey
from glowtrace.photographs.grid_points import GridPoint
from glowtrace.web.measure.photograph_work import PhotographWork


@pytest.mark.parametrize(
    ("bench", "kind", "seed"),
    [
        ("deflection tube", "lit room", 0),
        ("deflection tube", "cast", 1),
        ("deflection tube", "oblique", 3),
        ("fine-beam bulb", "glare", 0),
    ],
)
def test_a_sound_grid_is_found_and_is_right(bench, kind, seed):
    outcome, found = verdict(trial(bench, kind, seed))
    assert outcome == "right", found.says
    assert found.screen_map.rms_residual < 0.5


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
    # The page takes the same way: it asks for one click, and the next search knows it.
    work = PhotographWork(one.photograph, one.grid).found_grid()
    assert work.needs_label
    clicked = work.choose(at).click(column, row).found_grid()
    assert clicked.screen_map is not None
    assert not clicked.needs_label
    between = one.camera.pixels([(0.065, 0.005)])[0]
    nowhere = find_grid(light, one.grid, known=[GridPoint(*at, *between)])
    assert nowhere.screen_map is None
    assert "no crossing is seen at the click" in nowhere.says


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
