"""What the commands print: words and tables for people, one JSON object for programs."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Container, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from textwrap import wrap
from typing import Any

import typer

from glowtrace.errors import GlowtraceError

_WIDEST_TEXT = 100  # letters that are read with ease on one line


def print_json(content: Any) -> None:
    """Print one JSON value, and nothing else, to stdout; in ASCII, which every pipe carries."""
    typer.echo(json.dumps(content, indent=2, allow_nan=False))


def print_table(
    heads: Sequence[str], rows: Iterable[Sequence[str]], *, numbers: Container[int] = ()
) -> None:
    """Print a table without lines; the columns with these places hold numbers."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False)
    for place, head in enumerate(heads):
        is_number = place in numbers
        table.add_column(
            head, justify="right" if is_number else "left", overflow="fold", no_wrap=is_number
        )
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    Console(highlight=False).print(table)


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


def is_there(path: Path) -> bool:
    """Say whether something has this path; what can be no path (too long) has nothing."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def require_new(path: Path, overwrite: bool) -> None:
    """Refuse a file that is there already, unless it may be replaced."""
    if is_there(path) and not overwrite:
        raise GlowtraceError(
            f'"{path}" exists already and was left as it is; '
            "give another name, or --overwrite to replace it."
        )
