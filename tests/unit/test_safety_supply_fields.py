"""The optional fields of a supply that the discharge time needs. No outside source."""

from __future__ import annotations

import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.files import bench_from_toml, bench_to_toml
from glowtrace.bench.ready_made import ready_made
from glowtrace.errors import BenchError

TUBE = ready_made("deflection tube")


def test_a_bench_may_leave_both_out_and_keeps_what_is_given():
    silent = change(
        TUBE,
        {
            "supplies.accelerating.output_capacitance": None,
            "supplies.accelerating.bleeder_resistance": None,
            "supplies.plates.output_capacitance": "3.3 nF",
        },
    )
    again = bench_from_toml(bench_to_toml(silent))
    assert again == silent
    assert again.supplies.accelerating.output_capacitance is None
    assert again.supplies.plates.output_capacitance == 3.3e-9
    assert "output_capacitance" not in bench_to_toml(silent).partition("[supplies.plates]")[0]


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("output_capacitance", "0 F", "choose between 1 pF and 10000 µF"),
        ("output_capacitance", "2 m", "give a capacitance"),
        ("bleeder_resistance", "0 ohm", "choose between 1 ohm and 10000 Mohm"),
    ],
)
def test_values_out_of_range_are_refused_by_name(field, value, told):
    with pytest.raises(BenchError, match=told):
        change(TUBE, {f"supplies.accelerating.{field}": value})
