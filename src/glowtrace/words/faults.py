"""Statements about what is seen, in words, and found again by them."""

from __future__ import annotations

from collections.abc import Iterable

from glowtrace.faults.seen import statement_key
from glowtrace.faults.statement import Shape, Statement
from glowtrace.words.catalogue import messages
from glowtrace.words.language import say


def statement_words(one: Statement) -> str:
    """Give a statement as a sentence without its point."""
    shape: Shape = one.shape if f"fault.seen.{one.shape}.{one.key}" in messages("fault") else "line"
    return say(f"fault.seen.{shape}.{one.key}")


def named_statement(text: str, statements: Iterable[Statement]) -> str:
    """Give the key of the statement that a text means: its key, its words, or its former name.

    A text that means none of them comes back as it is.
    """
    for one in statements:
        if text in (one.key, statement_words(one)):
            return one.key
    return statement_key(text)
