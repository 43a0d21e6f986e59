"""The examples in the docstrings of glowtrace.explain."""

from __future__ import annotations

import doctest
from importlib import import_module

import pytest


@pytest.mark.parametrize("name", ["explanation", "orders", "writing"])
def test_examples_in_docstrings(name):
    results = doctest.testmod(import_module(f"glowtrace.explain.{name}"))
    assert results.attempted > 0
    assert results.failed == 0
