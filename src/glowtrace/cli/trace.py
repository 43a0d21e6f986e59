"""The command that traces: a bench and settings in; a picture, a table and words out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.frame import getting_ready, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import (
    AsJson,
    BenchChoice,
    ModelChoice,
    Overwrite,
    PictureFile,
    PrintLook,
    find_bench,
)
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_paragraph, print_table

if TYPE_CHECKING:
    from glowtrace.bench.picture import Picture
    from glowtrace.bench.prepared import PreparedBench
    from glowtrace.demos.textbook import Textbook

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
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Trace the beam of a bench and give the picture on its screen.

    Voltages and currents are the magnitudes on the knobs, with their units. A knob that is not
    told is at zero, the accelerating voltage as for the bench's demonstration; where none is told,
    the bench is set to show its demonstration.
    """
    from glowtrace.report.output import PICTURE_ENDINGS, TABLE_ENDINGS

    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        picture = outputs.want("--picture", picture, PICTURE_ENDINGS)
        table = outputs.want("--table", table, TABLE_ENDINGS)
        found = find_bench(bench)
        chosen = options.choose(found)
        with getting_ready(found) as (prepared, show):
            from glowtrace.demos.textbook import textbook_trace

            show(None, "electrons on their way")
            made = prepared.picture(chosen, electrons=electrons, seed=seed, model=model)
            textbook = textbook_trace(found, chosen)
            if picture is not None:
                _draw(picture, made, prepared, textbook, print_look, forces)
                outputs.note(picture)
        if table is not None:
            from glowtrace.report.table import save_table

            save_table(table, made, found, textbook)
            outputs.note(table)
        present(
            outputs,
            "picture",
            lambda: _record(made, prepared, textbook),
            lambda: _tell(made, prepared, textbook),
            as_json=as_json,
        )


def _draw(
    path: Path,
    made: Picture,
    prepared: PreparedBench,
    textbook: Textbook,
    print_look: bool,
    forces: bool,
) -> None:
    from glowtrace.explain.account import account_of
    from glowtrace.explain.followed import followed_ray
    from glowtrace.report.figure import save_picture
    from glowtrace.report.look import DARK, PRINT

    account = (
        account_of(followed_ray(prepared, made.settings, model=made.model)) if forces else None
    )
    look = PRINT if print_look else DARK
    save_picture(path, made, prepared.bench, textbook, look=look, account=account)


def _record(made: Picture, prepared: PreparedBench, textbook: Textbook) -> dict[str, Any]:
    from glowtrace.report.table import record

    return record(made, prepared.bench, textbook) | {"field_accuracy": prepared.fields.accuracy}


def _tell(made: Picture, prepared: PreparedBench, textbook: Textbook) -> None:
    """Tell people what the picture shows: the caption, some rows of the table, the accuracy."""
    from glowtrace.report.caption import accuracy_words, caption_lines
    from glowtrace.report.table import table_rows

    typer.echo("\n".join((prepared.bench.name, *caption_lines(made, prepared.bench))))
    rows = table_rows(made, textbook)
    if rows:
        typer.echo()
        some = [rows[n * (len(rows) - 1) // max(_ROWS - 1, 1)] for n in range(_ROWS)]
        print_table(
            ("u / mm", "v / mm", "width / mm", "textbook v / mm"),
            [[_cell(row[name]) for name in _TOLD] for row in (some if len(rows) > _ROWS else rows)],
            numbers=range(len(_TOLD)),
        )
    if made.model == "bench":
        print_paragraph(accuracy_words(prepared.fields.accuracy, prepared.bench))


def _cell(value: float | None) -> str:
    return "–" if value is None else f"{round(value, 2) + 0.0:.2f}"  # no minus before a zero
