"""What the commands print: words and tables for people, one JSON object for programs."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import typer

from glowtrace.errors import GlowtraceError


def print_json(content: Any) -> None:
    """Print one JSON value, and nothing else, to stdout."""
    typer.echo(json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False))


def print_table(heads: Sequence[str], rows: Iterable[Sequence[str]], *, numbers: int = 0) -> None:
    """Print a table without lines; the last `numbers` columns stand to the right."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False)
    for place, head in enumerate(heads):
        is_number = place >= len(heads) - numbers
        table.add_column(head, justify="right" if is_number else "left", overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    Console(highlight=False).print(table)


@contextmanager
def progress_bar() -> Iterator[Callable[[float, str], None] | None]:
    """Show on stderr how far the fields of a bench are; nothing where nobody watches."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("fields of the bench", total=1.0)
        yield lambda done, words: progress.update(task, completed=done, description=words)


def require_new(path: Path, overwrite: bool) -> None:
    """Refuse a file that is there already, unless it may be replaced."""
    if path.exists() and not overwrite:
        raise GlowtraceError(
            f'"{path}" exists already and was left as it is; '
            "give another name, or --overwrite to replace it."
        )
