"""The examples in the docstrings of the closed forms give what they say."""

import doctest
import importlib
import pkgutil

import pytest

from glowtrace import demos

MODULES = [module.name for module in pkgutil.iter_modules(demos.__path__, "glowtrace.demos.")]


@pytest.mark.parametrize("name", MODULES)
def test_docstring_examples(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples_to_run() -> None:
    attempted = [doctest.testmod(importlib.import_module(name)).attempted for name in MODULES]
    assert sum(attempted) >= 5
