"""What the commands about a bench have alike: made ready, told in words or as JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import typer

from glowtrace.cli.printing import print_json, print_paragraph, progress_bar
from glowtrace.words.bench import bench_name

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.prepared import PreparedBench
    from glowtrace.bench.settings import Settings
    from glowtrace.cli.outputs import Outputs

Show = Callable[[float | None, str], None]


@contextmanager
def getting_ready(bench: Bench) -> Iterator[tuple[PreparedBench, Show]]:
    """Give the bench with its fields, and a function that shows how far further work is."""
    with progress_bar() as show:
        show(None, "getting ready")
        from glowtrace.bench.prepared import prepare

        yield prepare(bench, progress=show), show


def present(
    outputs: Outputs | None,
    kind: str,
    record: Callable[[], Mapping[str, Any]],
    tell: Callable[[], None],
    *,
    as_json: bool,
    bench: Bench | None = None,
    settings: Settings | None = None,
) -> None:
    """Tell what was found: one JSON object, or a head, words, and the files that were written.

    Parameters
    ----------
    outputs
        The files of the command; None for one that writes none.
    kind, record
        Of the JSON object, as `glowtrace.cli.encoding` has them.
    tell
        Tells people the same.
    as_json
        Which of the two is wanted.
    bench, settings
        What it is about, which both begin with.
    """
    if as_json:
        print_json(kind, {**about(bench, settings), **record(), **_files(outputs)})
        return
    if outputs is None:
        _head(bench, settings)
        tell()
        return
    with outputs.telling():
        _head(bench, settings)
        tell()


def about(bench: Bench | None, settings: Settings | None = None) -> dict[str, Any]:
    """Give bench and settings as every record has them."""
    head: dict[str, Any] = {}
    if bench is not None:
        head["bench"] = {"name": bench.name, "invented": bench.invented}
    if settings is not None:
        from glowtrace.bench.ratings import settings_record

        head["settings"] = settings_record(settings)
    return head


def heading(text: str) -> None:
    """Tell a heading after an empty line."""
    typer.echo(f"\n{text}\n{'=' * len(text)}")


def _files(outputs: Outputs | None) -> dict[str, Any]:
    return {} if outputs is None else {"written": outputs.written}


def _head(bench: Bench | None, settings: Settings | None) -> None:
    if bench is not None:
        typer.echo(bench_name(bench))
        if settings is not None:
            from glowtrace.report.caption import settings_words

            print_paragraph(" · ".join(settings_words(settings, bench)))
