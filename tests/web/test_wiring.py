"""The plates' circuit: what the accelerating supply can do, and what the bench's ratings say to it.

The wiring rules are common practice, no source: a supply whose positive terminal is the anode
cannot lift a plate above the anode, and a divider gives no more than the supply.
"""

from __future__ import annotations

import itertools

import pytest

from glowtrace.bench.ratings import check_settings, knob_ranges
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.web.wiring import SHARED, plate_range, settle

BENCH = ready_made("deflection tube")
RANGES = knob_ranges(BENCH)
TIES = ("symmetric", "lower at anode", "upper at anode")


@pytest.mark.parametrize(
    ("tie", "is_reversed", "changed"),
    [*itertools.product(TIES, (False, True), ("plate_tie", "plate_reversed", "plate_source"))],
)
def test_what_is_settled_passes_the_bench_checks(tie: str, is_reversed: bool, changed: str) -> None:
    wanted = Settings(
        accelerating_voltage=2000.0,
        plate_voltage=3000.0,
        plate_tie=tie,  # type: ignore[arg-type]
        plate_source=SHARED,
        plate_reversed=is_reversed,
    )
    settled = settle(BENCH, RANGES, wanted, changed)
    assert check_settings(BENCH, wanted) != ()
    assert check_settings(BENCH, settled) == ()
    assert settled.plate_voltage == 2000.0
    if changed == "plate_reversed":
        assert settled.plate_reversed == is_reversed
    elif tie != "symmetric":
        assert settled.plate_tie == tie


def test_an_own_supply_leaves_everything_as_it_is() -> None:
    wanted = Settings(accelerating_voltage=2000.0, plate_voltage=3000.0, plate_reversed=True)
    assert settle(BENCH, RANGES, wanted, "plate_reversed") == wanted
    assert plate_range(RANGES, wanted).high == 4800.0


def test_without_a_plate_supply_the_accelerating_supply_feeds_the_plates() -> None:
    supplies = BENCH.supplies.model_copy(update={"plates": None})
    bench = BENCH.model_copy(update={"supplies": supplies})
    settled = settle(
        bench, knob_ranges(bench), Settings(accelerating_voltage=2000.0), "accelerating_voltage"
    )
    assert settled.plate_source == SHARED


def test_the_stop_of_the_plate_knob_names_the_shared_supply() -> None:
    settings = Settings(accelerating_voltage=2000.0, plate_source=SHARED)
    stop = plate_range(RANGES, settings)
    assert stop.high == 2000.0
    assert "set to 2.00 kV" in stop.why
