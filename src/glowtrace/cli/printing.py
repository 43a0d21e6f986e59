"""What the commands print: words and tables for people, one JSON object for programs."""

from __future__ import annotations

import sys
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from textwrap import wrap
from typing import Any

import typer

from glowtrace.cli.encoding import json_text

_WIDEST_TEXT = 100  # letters that are read with ease on one line
_ANY = 10_000  # wider than any table


def print_json(kind: str, content: Mapping[str, Any]) -> None:
    """Print one JSON object, and nothing else, to stdout; see `glowtrace.cli.encoding`."""
    typer.echo(json_text(kind, content))


def print_table(
    heads: Sequence[str], rows: Iterable[Sequence[str]], *, numbers: Container[int] = ()
) -> None:
    """Print a table without lines; the columns with these places hold numbers."""
    from rich import box
    from rich.console import Console
    from rich.measure import Measurement
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False)
    cells = [[str(cell) for cell in row] for row in rows]
    for place, head in enumerate(heads):
        is_number = place in numbers
        widest = max((len(row[place]) for row in cells), default=0) if is_number else None
        table.add_column(
            head,
            justify="right" if is_number else "left",
            overflow="fold",
            no_wrap=is_number,
            min_width=widest,
        )
    for row in cells:
        table.add_row(*map(Text, row))
    console = Console(highlight=False)
    # A line that is too long for the terminal is better than a number without its last digits.
    needed = Measurement.get(console, console.options.update(max_width=_ANY), table).minimum
    Console(highlight=False, width=max(console.width, needed)).print(table)


def print_paragraph(text: str, *, lead: str = "") -> None:
    """Print text wrapped to the terminal; `lead` stands before it and indents what follows."""
    from rich.console import Console

    for line in wrap(
        text,
        min(Console().width, _WIDEST_TEXT),
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_on_hyphens=False,
    ):
        typer.echo(line)


@contextmanager
def progress_bar() -> Iterator[Callable[[float | None, str], None]]:
    """Give a function that shows on stderr how far the work is, where somebody watches.

    It takes the fraction done (None where it is not known) and a few words.
    """
    if not sys.stderr.isatty():
        yield lambda done, words: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    columns = BarColumn(), TextColumn("{task.description}", markup=False)
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("", total=None)

        def show(done: float | None, words: str) -> None:
            total = None if done is None else 1.0
            progress.update(task, completed=done or 0.0, total=total, description=words)

        yield show
