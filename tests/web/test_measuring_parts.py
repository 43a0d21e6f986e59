"""Parts of the measuring page that need no browser; rules of the project, no source."""

from __future__ import annotations

import math

import numpy as np
import pytest

from glowtrace.bench.ready_made import ready_made
from glowtrace.errors import GlowtraceError
from glowtrace.measure.experiment import Known, experiment
from glowtrace.measure.export import export_measurement
from glowtrace.measure.known_text import known_from_text
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import table
from glowtrace.photographs.grid_lines import printed_grid
from glowtrace.photographs.photograph import Photograph
from glowtrace.web.measure.draft import names_columns, put_texts
from glowtrace.web.measure.photograph_work import PhotographWork
from glowtrace.web.measure.redoing import redone

BULB = "fine-beam bulb"
EMPTY = (("",) * 3,) * 2


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("82,5\t200\t1,5", ("82,5", "200", "1,5")),
        ("82,5;200;1,5", ("82,5", "200", "1,5")),
        ("82.5,200,1.5", ("82.5", "200", "1.5")),
        ('"82.5"\t"200"\t"1.5"', ("82.5", "200", "1.5")),
        ("82,5\n", ("82,5", "", "")),
        ("82\t200\t1.5\t\t", ("82", "200", "1.5")),  # empty cells beside a table hold nothing
    ],
)
def test_copied_cells_are_parted(text: str, row: tuple[str, ...]) -> None:
    assert put_texts(EMPTY, 0, 0, text, 3)[0] == row


def test_copied_cells_without_a_column_are_refused() -> None:
    with pytest.raises(GlowtraceError, match="3 cells wide, and the table has 2 columns from here"):
        put_texts(EMPTY, 0, 1, "1\t2\t3", 3)


@pytest.mark.parametrize(
    ("text", "is_named"),
    [("D (mm),V_a (V),I (A)\n82,200,1.5", True), ("n/a\t200\t1.5", False), ("82,5", False)],
)
def test_a_first_line_of_names_is_told_from_readings(text: str, is_named: bool) -> None:
    assert names_columns(text) == is_named


@pytest.mark.parametrize(
    "known",
    [Known(None, 1.25e-6), Known(7.8e-4, 3.1e-6), Known(7.8e-4, 0.0), Known(None, math.inf)],
    ids=["as drawn", "value", "exact", "free"],
)
def test_what_was_known_comes_back_from_a_saved_measurement(known: Known) -> None:
    bench = ready_made(BULB)
    rows = [
        {"accelerating_voltage": 200.0, "coil_current": current, "diameter": 0.122 / current}
        for current in (1.3, 1.5, 1.7)
    ]
    readings = table("circle", rows, {"ruler": Instrument(1e-3)})
    accepted = {"specific_charge": Known(1.7588e11, 0.0)} if math.isinf(known.uncertainty) else {}
    setup = experiment(bench, readings, known={"coil_constant": known, **accepted})
    found = redone(export_measurement(setup, setup.fit()), bench)
    assert found.readings.rows == readings.rows
    if found.wants_constants:  # the fit looks for it, so nothing is known of it beforehand
        assert found.constants == {}
        return
    told = known_from_text("coil_constant", found.constants["coil_constant"], bench, "ideal")
    assert told.value == known.value
    assert told.uncertainty == pytest.approx(known.uncertainty)


def test_any_crossing_can_be_clicked_where_a_corner_is_hidden() -> None:
    grid = printed_grid(ready_made("deflection tube"))
    black = Photograph(np.zeros((400, 600, 3), dtype=np.uint8))
    work = PhotographWork(black, grid)
    left, right, low, high = grid.u[4], grid.u[-1], grid.v[0], grid.v[-1]
    clicks = {
        (left, low): (100.0, 350.0),
        (right, low): (500.0, 350.0),
        (right, high): (500.0, 50.0),
        (left, high): (100.0, 50.0),
    }
    for place, at in clicks.items():
        work = work.choose(place)
        assert work.wanted == place
        work = work.click(*at)
    assert work.wanted is None
    assert work.screen_map is not None
    places = np.array(list(clicks))
    assert work.screen_map.pixels(places) == pytest.approx(np.array(list(clicks.values())))
