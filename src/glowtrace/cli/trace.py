"""The command that traces: a bench and settings in; a picture, a table and words out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import (
    AsJson,
    BenchChoice,
    ModelChoice,
    PictureFile,
    PrintLook,
    find_bench,
)
from glowtrace.cli.printing import print_json, print_paragraph, print_table, progress_bar

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.picture import Picture
    from glowtrace.bench.prepared import PreparedBench
    from glowtrace.bench.settings import Settings
    from glowtrace.demos.textbook import Textbook
    from glowtrace.explain.account import Account

_ROWS = 12  # of the table on the terminal
_TOLD = ("u_mm", "v_mm", "width_mm", "textbook_v_mm")
_MOST_ELECTRONS = 10_000_000

EXAMPLES = """Examples:

\b
glowtrace trace "deflection tube" --accelerating "3 kV" --plate "1 kV" --picture up.png
glowtrace trace my-tube.toml --settings null.toml --reverse-coils --table null.csv
glowtrace trace "fine-beam bulb" --accelerating "250 V" --coil "1.5 A" --json
"""


@with_groups
def trace(
    bench: BenchChoice,
    options: SettingsOptions,
    model: ModelChoice = "bench",
    electrons: Annotated[
        int,
        typer.Option(metavar="N", min=1, max=_MOST_ELECTRONS, help="How many stand for the beam."),
    ] = 20_000,
    seed: Annotated[
        int, typer.Option(metavar="N", min=0, help="Another seed gives other electrons.")
    ] = 0,
    picture: PictureFile = None,
    print_look: PrintLook = False,
    forces: Annotated[
        bool, typer.Option("--forces", help="Draw the forces along the trace as arrows too.")
    ] = False,
    table: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the trace to a .csv or .json file.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Trace the beam of a bench and give the picture on its screen.

    Voltages and currents are the magnitudes on the knobs, with their units. A knob that is not
    told is at zero; where none is told, the bench is set to show its demonstration.
    """
    from glowtrace.demos.textbook import textbook_trace
    from glowtrace.report.output import PICTURE_ENDINGS, TABLE_ENDINGS, require_ending

    for path, endings in ((picture, PICTURE_ENDINGS), (table, TABLE_ENDINGS)):
        if path is not None:
            require_ending(path, endings)
    found = find_bench(bench)
    chosen = options.choose(found)
    with progress_bar() as show:
        show(None, "getting ready")
        from glowtrace.bench.prepared import prepare

        prepared = prepare(found, progress=show)
        show(None, "electrons on their way")
        made = prepared.picture(chosen, electrons=electrons, seed=seed, model=model)
        account = _account(prepared, chosen, model) if forces else None
    textbook = textbook_trace(found, chosen)
    written = _write_files(made, found, textbook, picture, table, print_look, account)
    if as_json:
        from dataclasses import asdict

        from glowtrace.report.table import record

        more = {
            "field_accuracy": asdict(prepared.fields.accuracy),
            "written": [str(path) for path in written],
        }
        print_json(record(made, found, textbook) | more)
    else:
        _tell(made, found, textbook, written)
        if model == "bench":
            from glowtrace.report.caption import accuracy_words

            print_paragraph(accuracy_words(prepared.fields.accuracy, found))


def _account(
    prepared: PreparedBench, settings: Settings, model: Literal["bench", "ideal"]
) -> Account:
    """Give the forces along the path of the electron that stands for the trace."""
    from glowtrace.explain.account import account_of
    from glowtrace.explain.followed import followed_ray

    return account_of(followed_ray(prepared, settings, model=model))


def _write_files(
    made: Picture,
    bench: Bench,
    textbook: Textbook,
    picture: Path | None,
    table: Path | None,
    print_look: bool,
    account: Account | None,
) -> tuple[Path, ...]:
    """Write the files that are wanted and give their names."""
    if picture is not None:
        from glowtrace.report.figure import save_picture
        from glowtrace.report.look import DARK, PRINT

        look = PRINT if print_look else DARK
        save_picture(picture, made, bench, textbook, look=look, account=account)
    if table is not None:
        from glowtrace.report.table import save_table

        save_table(table, made, bench, textbook)
    return tuple(path for path in (picture, table) if path is not None)


def _tell(made: Picture, bench: Bench, textbook: Textbook, written: tuple[Path, ...]) -> None:
    """Tell people what the picture shows: the caption, some rows of the table, the files."""
    from glowtrace.report.caption import caption_lines
    from glowtrace.report.table import table_rows

    typer.echo("\n".join((bench.name, *caption_lines(made, bench))))
    rows = table_rows(made, textbook)
    if rows:
        typer.echo()
        some = [rows[n * (len(rows) - 1) // max(_ROWS - 1, 1)] for n in range(_ROWS)]
        print_table(
            ("u / mm", "v / mm", "width / mm", "textbook v / mm"),
            [[_cell(row[name]) for name in _TOLD] for row in (some if len(rows) > _ROWS else rows)],
            numbers=range(len(_TOLD)),
        )
    for path in written:
        typer.echo(f"written: {path}")


def _cell(value: float | None) -> str:
    return "–" if value is None else f"{round(value, 2) + 0.0:.2f}"  # no minus before a zero
