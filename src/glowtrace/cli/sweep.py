"""The command that turns a knob, or changes a number of the bench, and gives a table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from glowtrace.cli.frame import about, getting_ready, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions, knob_named
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
from glowtrace.cli.printing import print_table
from glowtrace.cli.ranges import read_quantity, read_range
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.sweeps import Sweep

_MOST_ELECTRONS = 100_000
_MOST_POINTS = 10_000
_ROWS = 15  # of the table on the terminal

EXAMPLES = """Examples:

\b
glowtrace sweep "deflection tube" --turn plate --range "0 V to 2 kV" --at "90 mm" --table up.csv
glowtrace sweep "fine-beam bulb" --turn coil --range "1 A to 2 A" --picture circle.png
glowtrace sweep "deflection tube" --turn plates.gap --range "46 mm to 56 mm" --points 6 --plate 1kV
"""


@with_groups
def sweep(
    bench: BenchChoice,
    options: SettingsOptions,
    turn: Annotated[
        list[str],
        typer.Option(
            metavar="NAME",
            help="What is turned: accelerating, plate or coil, or a number of the bench by its "
            'path in the file, as in "plates.gap". May be given twice.',
        ),
    ],
    span: Annotated[
        list[str],
        typer.Option(
            "--range",
            metavar="RANGE",
            help='From where to where, as in "0 V to 2 kV"; one for each --turn, in their order. '
            "Of plates and coils below 0 is the other polarity.",
        ),
    ],
    points: Annotated[
        int, typer.Option(metavar="N", min=2, max=_MOST_POINTS, help="Places on each range.")
    ] = 41,
    at: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH",
            help='Where along the beam heights are read, as in "90 mm"; as on Rehearse '
            "when left out.",
        ),
    ] = None,
    model: ModelChoice = "bench",
    electrons: Annotated[
        int,
        typer.Option(metavar="N", min=1, max=_MOST_ELECTRONS, help="How many stand for the beam."),
    ] = 200,
    seed: Annotated[
        int, typer.Option(metavar="N", min=0, help="Another seed gives other electrons.")
    ] = 0,
    beyond_ratings: Annotated[
        bool, typer.Option("--beyond-ratings", help="Go on beyond ratings; such rows are marked.")
    ] = False,
    picture: PictureFile = None,
    print_look: PrintLook = False,
    table: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write every row to a .csv or .parquet file."),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Turn a knob or change a number, and read the picture.

    Heights, widths, circles and spots stand beside the textbook's. Where a number of the bench
    changes, its fields are computed anew for every value.
    """
    from glowtrace.report.output import PICTURE_ENDINGS, write_output

    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        picture = outputs.want("--picture", picture, PICTURE_ENDINGS)
        table = outputs.want("--table", table, (".csv", ".parquet"))
        found = find_bench(bench)
        if len(turn) != len(span) or len(turn) > 2:
            wanted = "give one or two --turn, and a --range for each"
            given = f"{len(turn)} of --turn, {len(span)} of --range"
            raise BenchError("sweep", [Problem("--turn", given, wanted)])
        knobs = tuple(knob_named(name) for name in turn if "." not in name)
        names = [name if "." in name else knob_named(name).setting for name in turn]
        turned = {
            name: _values(found, name, text, points) for name, text in zip(names, span, strict=True)
        }
        place = None if at is None else read_quantity("sweep", "--at", at, "m")
        settings = options.choose_beside(found, knobs) if knobs else options.choose(found)
        with getting_ready(found) as (prepared, show):
            from glowtrace.sweeps import sweep as swept

            made = swept(
                prepared,
                settings,
                turned,
                at=place,
                model=model,
                electrons=electrons,
                seed=seed,
                beyond_ratings=beyond_ratings,
                progress=show,
            )
        if picture is not None:
            from glowtrace.report.look import DARK, PRINT
            from glowtrace.report.sweep_figure import save_sweep

            save_sweep(picture, made, look=PRINT if print_look else DARK)
            outputs.note(picture)
        if table is not None:
            is_parquet = table.suffix.lower() == ".parquet"
            write_output(table, made.parquet() if is_parquet else made.csv().encode())
            outputs.note(table)
        present(
            outputs,
            "sweep",
            lambda: {
                **about(None, settings),
                "model": model,
                "at_m": made.at,
                "columns": made.columns,
            },
            lambda: _tell(made),
            as_json=as_json,
            bench=found,
        )


def _values(bench: Bench, name: str, text: str, points: int) -> list[float]:
    """Give the places on a range; those of a count are whole."""
    import numpy as np

    from glowtrace.sweeps.axes import turnable

    kind = turnable(bench, name)
    low, high = read_range("sweep", "--range", text, kind.unit)
    places = np.linspace(low, high, points)
    values = sorted(set(np.rint(places).tolist())) if kind.is_count else places.tolist()
    return [float(f"{value:.12g}") for value in values]


def _tell(made: Sweep) -> None:
    """Tell people some of the rows: what was turned, what is seen, what a textbook has."""
    from glowtrace.report.sweep_figure import (
        column_label,
        column_text,
        shown_columns,
        sweep_caption,
    )

    typer.echo("\n".join(sweep_caption(made)) + "\n")
    names = [axis.column for axis in made.axes] + list(shown_columns(made)) + ["kind"]
    rows = list(made.rows())
    some = [rows[n * (len(rows) - 1) // (_ROWS - 1)] for n in range(_ROWS)]
    print_table(
        [column_label(name) for name in names],
        [
            [column_text(name, row[name]) for name in names]
            for row in (some if len(rows) > _ROWS else rows)
        ],
        numbers=range(len(names) - 1),
    )
    if len(rows) > _ROWS:
        typer.echo(f"\n{_ROWS} of {len(rows)} rows; --table writes them all.")
