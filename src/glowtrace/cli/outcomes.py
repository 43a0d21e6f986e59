"""The command that maps what happens while two knobs are turned through their ranges."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from glowtrace.cli.frame import getting_ready, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import KnobName, SettingsOptions, knob_named
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
from glowtrace.cli.ranges import read_range
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.plan import OutcomeMap

_MOST_ELECTRONS = 10_000
_LINES, _LETTERS = 20, 60  # of the map on the terminal

EXAMPLES = """Examples:

\b
glowtrace outcomes "deflection tube" --across coil --up plate --reverse-coils --picture map.png
glowtrace outcomes "fine-beam bulb" --across coil --up accelerating --size 60x60 --table map.csv
glowtrace outcomes "deflection tube" --across coil --up plate --across-range "0 to 600 mA"
"""

Range = Annotated[
    str | None,
    typer.Option(
        metavar="RANGE",
        help='From where to where, as in "0 V to 2 kV" or "-0.3 A to 0.3 A", where below 0 is the '
        "other polarity; left out, what the ratings allow.",
    ),
]


@with_groups
def outcomes(
    bench: BenchChoice,
    options: SettingsOptions,
    across: Annotated[
        KnobName,
        typer.Option(
            parser=knob_named, metavar="KNOB", help="To the right: accelerating, plate or coil."
        ),
    ],
    up: Annotated[
        KnobName, typer.Option(parser=knob_named, metavar="KNOB", help="Another knob: upwards.")
    ],
    across_range: Range = None,
    up_range: Range = None,
    size: Annotated[
        str, typer.Option(metavar="WxH", help="Points to the right and upwards.")
    ] = "200x200",
    electrons: Annotated[
        int,
        typer.Option(
            metavar="N", min=4, max=_MOST_ELECTRONS, help="How many stand for the beam at a point."
        ),
    ] = 32,
    seed: Annotated[
        int, typer.Option(metavar="N", min=0, help="Another seed gives other electrons.")
    ] = 0,
    model: ModelChoice = "bench",
    picture: PictureFile = None,
    print_look: PrintLook = False,
    table: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write every point to a .csv file.")
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Map what happens while two knobs are turned.

    It tells where the beam ends and what it shows. Knobs that are not on the map stay at their
    settings. A range may go beyond the ratings, which are drawn. Ctrl + C stops it, and nothing
    is written then.
    """
    from glowtrace.bench.ratings import KNOBS
    from glowtrace.report.output import PICTURE_ENDINGS, write_output

    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        picture = outputs.want("--picture", picture, PICTURE_ENDINGS)
        table = outputs.want("--table", table, (".csv",))
        points = _read_size(size)
        x_range, y_range = (
            None if text is None else read_range("map", option, text, KNOBS[knob.setting])
            for option, text, knob in (
                ("--across-range", across_range, across),
                ("--up-range", up_range, up),
            )
        )
        found = find_bench(bench)
        settings = options.choose_beside(found, (across, up))
        with getting_ready(found) as (prepared, show):
            from glowtrace.plan import outcome_map

            made = outcome_map(
                prepared, settings, across.setting, up.setting, x_range=x_range, y_range=y_range,
                size=points, electrons=electrons, seed=seed, model=model, progress=show,
            )  # fmt: skip
        if picture is not None:
            from glowtrace.report.look import DARK, PRINT
            from glowtrace.report.outcome_figure import save_outcome_map

            save_outcome_map(picture, made, found, look=PRINT if print_look else DARK)
            outputs.note(picture)
        if table is not None:
            write_output(table, _csv(made).encode())
            outputs.note(table)
        present(
            outputs,
            "outcomes",
            lambda: {"shares": made.shares, **made.as_dict()},
            lambda: _tell(made),
            as_json=as_json,
            bench=found,
        )


def _read_size(text: str) -> tuple[int, int]:
    match = re.fullmatch(r"\s*(\d{1,9})\s*[x×]\s*(\d{1,9})\s*", text)
    if match is None:
        wanted = 'give columns and rows, for example "200x200"'
        raise BenchError("map", [Problem("--size", f'"{text}"', wanted)])
    return int(match[1]), int(match[2])


def _csv(made: OutcomeMap) -> str:
    """Give one line a point: both knobs and what happens."""
    import csv
    import io

    from glowtrace.bench.ratings import KNOBS

    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([f"{knob}_{KNOBS[knob].lower()}" for knob in (made.knob_x, made.knob_y)]
                    + ["outcome"])  # fmt: skip
    for y, row in zip(made.y.tolist(), made.codes.tolist(), strict=True):
        for x, code in zip(made.x.tolist(), row, strict=True):
            writer.writerow([x, y, made.labels[code]])
    return text.getvalue()


def _tell(made: OutcomeMap) -> None:
    """Tell people the shares, with a small map in letters, and the ratings that cross it."""
    from string import ascii_uppercase

    from glowtrace.bench.ratings import KNOBS
    from glowtrace.report.caption import quantity_words

    frequent = sorted(made.shares, key=lambda label: -made.shares[label])
    letters = dict(zip(frequent, f".{ascii_uppercase}", strict=False))
    x_words, y_words = (
        f"{knob.replace('_', ' ')} from {quantity_words(float(along[0]), KNOBS[knob])} "
        f"to {quantity_words(float(along[-1]), KNOBS[knob])}"
        for knob, along in ((made.knob_x, made.x), (made.knob_y, made.y))
    )
    typer.echo(f"upwards: {y_words}")
    rows, columns = made.codes.shape
    for line in range(_LINES - 1, -1, -1):
        row = made.codes[line * (rows - 1) // (_LINES - 1)]
        signs = (row[n * (columns - 1) // (_LETTERS - 1)] for n in range(_LETTERS))
        typer.echo("  |" + "".join(letters[made.labels[sign]] for sign in signs))
    typer.echo(f"  +{'-' * _LETTERS}")
    typer.echo(f"to the right: {x_words}\n")
    print_table(
        ("", "what happens", "share of the map"),
        [(letter, label, f"{100 * made.shares[label]:.1f} %") for label, letter in letters.items()],
        numbers=(2,),
    )
    if made.ratings:
        typer.echo(f"\nRatings that cross it: {'; '.join(line.text for line in made.ratings)}.")
