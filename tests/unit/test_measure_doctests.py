"""The examples in the docstrings of glowtrace.measure."""

from __future__ import annotations

import doctest
from importlib import import_module

import pytest


@pytest.mark.parametrize("name", ["tables.instrument", "tables.spreadsheet", "specific_charge"])
def test_examples_in_docstrings(name):
    results = doctest.testmod(import_module(f"glowtrace.measure.{name}"))
    assert results.attempted > 0
    assert results.failed == 0
