"""The table in the page's address, and back."""

from __future__ import annotations

from urllib.parse import parse_qsl

import pytest
from hypothesis import given
from hypothesis import strategies as st

from glowtrace.bench.settings import Settings
from glowtrace.errors import BenchError
from glowtrace.web.address import from_query, to_query

settings_anyhow = st.builds(
    Settings,
    accelerating_voltage=st.floats(0.0, 30e3),
    plate_voltage=st.floats(0.0, 30e3),
    plate_tie=st.sampled_from(["symmetric", "lower at anode", "upper at anode"]),
    plate_source=st.sampled_from(["own supply", "accelerating supply"]),
    plate_reversed=st.booleans(),
    coil_current=st.floats(0.0, 100.0),
    coil_reversed=st.booleans(),
    heater_on=st.booleans(),
    ripple=st.booleans(),
)


@given(settings_anyhow, st.text(min_size=1))
def test_there_and_back(settings: Settings, name: str) -> None:
    query = dict(parse_qsl(to_query(name, settings), keep_blank_values=True))
    assert from_query(query) == (name, settings)


def test_an_empty_address_tells_nothing() -> None:
    assert from_query({}) == (None, None)


def test_a_wrong_value_names_its_field() -> None:
    with pytest.raises(BenchError, match=r"plate_voltage.*lots"):
        from_query({"accelerating_voltage": "3000", "plate_voltage": "lots"})
