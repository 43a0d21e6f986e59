"""The files that the documents describe are read as they stand there; no outside source."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from glowtrace.bench.files import settings_from_toml, settings_to_toml
from glowtrace.bench.settings import Settings
from glowtrace.measure.methods import COLUMNS
from glowtrace.measure.tables.spreadsheet import read_table

DOCS = Path(__file__).resolve().parents[2] / "docs"


def example_of(page: str) -> str:
    found = re.search(r"```(?:toml|text)\n(.*?)```", (DOCS / page).read_text("utf-8"), re.DOTALL)
    assert found is not None
    return found[1]


def test_the_settings_file_of_the_documents_is_read() -> None:
    settings = settings_from_toml(example_of("settings-file.md"))
    assert settings.accelerating_voltage == 3000.0
    assert settings.plate_tie == "lower at anode"
    assert settings.signed_coil_current == pytest.approx(-0.0987)


def test_every_field_of_a_settings_file_is_described() -> None:
    page = (DOCS / "settings-file.md").read_text("utf-8")
    written = settings_to_toml(Settings(accelerating_voltage=1000.0))
    fields = re.findall(r"^(\w+) = ", written, re.MULTILINE)
    assert set(re.findall(r"^\| `(\w+)` \| \w", page, re.MULTILINE)) == set(fields) - {"format"}


def test_the_readings_file_of_the_documents_is_read() -> None:
    found = read_table(example_of("readings-file.md"))
    assert found.faults == {}
    assert found.is_invented
    assert [row["diameter"].value for row in found.rows] == pytest.approx([0.082, 0.092])
    assert found.rows[0]["diameter"].uncertainty == pytest.approx(0.5e-3)
    assert found.instruments["coil_current"].zero_limit == pytest.approx(0.02)


def test_every_column_of_every_method_is_described() -> None:
    page = (DOCS / "readings-file.md").read_text("utf-8")
    for method, columns in COLUMNS.items():
        for column in columns:
            assert f'| `"{method}"` | `{column.head}` |' in page
