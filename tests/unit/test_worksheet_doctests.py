"""The examples in the docstrings of numbers, words, worksheets, clips and captions."""

from __future__ import annotations

import doctest
from importlib import import_module
from types import ModuleType

import pytest

from glowtrace.report import caption
from glowtrace.report.clips import facts as clip_facts
from glowtrace.report.clips import flight as clip_flight
from glowtrace.report.worksheets import words as worksheet_words
from glowtrace.units import number
from glowtrace.words import light, telling


@pytest.mark.parametrize(
    "module",
    [
        caption,
        clip_facts,
        clip_flight,
        worksheet_words,
        number,
        import_module("glowtrace.words.language"),
        light,
        telling,
    ],
)
def test_examples_in_docstrings_give_what_they_say(module: ModuleType) -> None:
    result = doctest.testmod(module)
    assert result.attempted > 0
    assert result.failed == 0
