"""Tables of readings on the command line: an empty one to fill in, and one read from its file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from glowtrace.cli.options import Overwrite, read_text
from glowtrace.cli.outputs import require_new, require_place
from glowtrace.cli.printing import print_paragraph
from glowtrace.errors import BenchError, GlowtraceError, Problem

if TYPE_CHECKING:
    from glowtrace.measure.methods import Method
    from glowtrace.measure.tables.instrument import Instrument
    from glowtrace.measure.tables.readings import Table

EXAMPLES = """Examples:

\b
glowtrace readings circle circles.csv
glowtrace readings null null.csv --rows 12 --plate-tie "lower at anode"
glowtrace measure null null.csv "deflection tube"

Write one reading a row. A cell may hold a value, a value with its standard uncertainty as in
82.0(5), or repeats as in 81.5 / 82.0 / 82.5.
"""
MethodName = Annotated[
    str,
    typer.Argument(
        metavar="METHOD",
        show_default=False,
        help='What is read: "plates only", "coils only", "null", "circle", "axial focus" '
        'or "turn-back".',
    ),
]
ReadingsFile = Annotated[
    Path, typer.Argument(show_default=False, help="A table of readings: a CSV or text file.")
]
Meters = Annotated[
    list[str] | None,
    typer.Option(
        "--meter",
        metavar="NAME=ERROR of STEP",
        help='What an instrument is good for, as in "coil_current=0.5 % + 2 digits of 10 mA" '
        'or "ruler=of 1 mm, judged to 2 mm" (how well the eye judges one reading; usual if left '
        "out). May be repeated. A quantity without one is taken as exact.",
    ),
]
Columns = Annotated[
    str | None,
    typer.Option(
        metavar="HEADS",
        help='What the columns of the table hold, where its heads do not say it: "U (V), I (A), '
        'D (cm)"; "-" is nothing, "r" a radius, "left" and "right" places on a scale, "run" a '
        "run or observer.",
    ),
]
Every = Annotated[
    list[str] | None,
    typer.Option(
        metavar="NAME=VALUE",
        help='What is the same in every row and has no column, as in "L=70 mm".',
    ),
]
_MOST_ROWS = 1000
_JUDGED = re.compile(r",?\s*(?:judged to|judgement)\s+")
_EXAMPLES = {
    "ruler": ("ruler=of 1 mm, judged to 2 mm", "accelerating_voltage=0.5 % + 2 digits of 1 V"),
    None: ("plate_voltage=0.5 % + 2 digits of 1 V", "coil_current=1 % + 2 digits of 1 mA"),
}
_PARTING = ' \t,;"'
"""What a row has that holds nothing."""


def readings(
    method: MethodName,
    file: Annotated[Path, typer.Argument(show_default=False, help="The .csv file to write.")],
    rows: Annotated[
        int, typer.Option(min=1, max=_MOST_ROWS, help="How many rows to leave for readings.")
    ] = 10,
    plate_tie: Annotated[
        str,
        typer.Option(
            help='How the plates stand against the anode: "symmetric", "lower at anode" or '
            '"upper at anode".'
        ),
    ] = "symmetric",
    meters: Meters = None,
    overwrite: Overwrite = False,
) -> None:
    """Write an empty table of readings to fill in.

    It has a column for each quantity of the method. What the instruments are good for stands at
    its top, to be changed there; the values are usual ones unless they are told.
    """
    from glowtrace.report.output import require_ending, write_output

    require_ending(file, (".csv",))
    require_new(file, overwrite)
    require_place(file)
    from glowtrace.measure.methods import COLUMNS, columns_of
    from glowtrace.measure.tables.spreadsheet import read_table, write_table
    from glowtrace.measure.usual_meters import meter_names, usual_meter

    columns = columns_of(method)
    known = next(name for name in COLUMNS if name == method)
    heads = ",".join(column.head for column in columns)
    empty = read_table(f"# plate tie: {plate_tie}\n{heads}", known)
    usual = {name: usual_meter(name, known) for name in meter_names(known)}
    instruments = usual | read_meters(meters or [], empty)
    text = write_table(replace(empty, instruments=instruments), separator=",")
    write_output(file, (text + ("," * len(columns) + "\n") * rows).encode())
    typer.echo(f"written: {file}")
    print_paragraph(f"Columns: {', '.join(column.head for column in columns)}.")


def read_readings(
    path: Path, method: str, columns: str | None = None, every: Sequence[str] = ()
) -> Table:
    """Give the readings of a file; rows that were left empty are no readings.

    Raises
    ------
    GlowtraceError
        The file cannot be read, or there is no such method.
    """
    from glowtrace.measure.methods import COLUMNS, columns_of
    from glowtrace.measure.tables.heads import UnsureColumnsError, told_heads
    from glowtrace.measure.tables.spreadsheet import read_table

    columns_of(method)  # tells which methods there are
    written = [line for line in read_text(path).splitlines() if line.strip(_PARTING)]
    known = next(name for name in COLUMNS if name == method)
    try:
        heads = None if columns is None else told_heads(columns_of(method), columns)
        return read_table("\n".join(written), known, heads, _same(known, every))
    except UnsureColumnsError as error:
        raise GlowtraceError(
            f"{error} after --columns; what is the same in every row after --every"
        ) from None


def _same(method: Method, told: Sequence[str]) -> dict[str, str]:
    """Read what is the same in every row, "L=70 mm", by the name of its column."""
    from glowtrace.measure.methods import columns_of

    found = {}
    for text in told:
        name, _, value = text.partition("=")
        wanted = name.strip().casefold()
        columns = columns_of(method)
        named = [c.name for c in columns if wanted in (c.symbol.casefold(), c.name)]
        if not named or not value.strip():
            names = ", ".join(column.symbol for column in columns)
            allowed = f"give NAME=VALUE, with a NAME of {names}"
            raise BenchError("readings", [Problem("--every", f'"{text}"', allowed)])
        found[named[0]] = value.strip()
    return found


def with_meters(table: Table, told: list[str]) -> Table:
    """Give a table with the instruments that are told beside those of its file.

    Raises
    ------
    GlowtraceError
        One is unknown or cannot be read; or every reading of a row would be exact.
    """
    table = replace(table, instruments={**table.instruments, **read_meters(told, table)})
    if table.usable and not table.is_uncertain:
        names = " ".join(f'--meter "{each}"' for each in _EXAMPLES[table.columns[0].meter])
        raise BenchError(
            "instruments", [Problem("--meter", "none", f"state an instrument, as in {names}")]
        )
    return table


def read_meters(told: list[str], table: Table) -> dict[str, Instrument]:
    """Read instruments like "ruler=0.2 % of 1 mm, judged to 2 mm", by a meter's or column's name.

    Where nothing is said of judging, that of the table counts, or else the usual one.
    """
    from glowtrace.measure.tables.instrument import meter
    from glowtrace.measure.usual_meters import usual_meter
    from glowtrace.units import parse_quantity

    units = {column.meter or column.name: column.si_unit for column in table.columns}
    found = {}
    for text in told:
        name, _, value = text.partition("=")
        name = name.strip()
        value, _, judged = _JUDGED.sub("\n", value, count=1).partition("\n")
        error, of, step = value.rpartition("of ")
        if name not in units or units[name] == "1" or not of:
            names = ", ".join(each for each, unit in units.items() if unit != "1")
            wanted = (
                f'give NAME=ERROR of STEP, with a NAME of {names}: "{next(iter(units))}=of 1 mm"'
            )
            raise BenchError("instruments", [Problem("--meter", f'"{text}"', wanted)])
        made = meter(error.strip(), step.strip(), units[name])
        stated = table.instruments.get(name) or usual_meter(name, table.method)
        size = parse_quantity(judged.strip(), units[name]) if judged else stated.judgement
        found[name] = replace(made, judgement=size)
    return found
