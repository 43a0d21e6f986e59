"""Tables of readings on the command line: an empty one to fill in, and one read from its file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from glowtrace.cli.options import Overwrite, read_text
from glowtrace.cli.outputs import require_new, require_place
from glowtrace.cli.printing import print_paragraph
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.measure.instrument import Instrument
    from glowtrace.measure.readings import Table

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
        'or "ruler=of 1 mm"; may be repeated. A quantity without one is taken as exact.',
    ),
]
_MOST_ROWS = 1000
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
    from glowtrace.measure.spreadsheet import read_table, write_table
    from glowtrace.measure.usual_meters import meter_names, usual_meter

    columns = columns_of(method)
    known = next(name for name in COLUMNS if name == method)
    heads = ",".join(column.head for column in columns)
    empty = read_table(f"# plate tie: {plate_tie}\n{heads}", known)
    usual = {name: usual_meter(name) for name in meter_names(known)}
    instruments = usual | read_meters(meters or [], empty)
    text = write_table(replace(empty, instruments=instruments), separator=",")
    write_output(file, (text + ("," * len(columns) + "\n") * rows).encode())
    typer.echo(f"written: {file}")
    print_paragraph(f"Columns: {', '.join(column.head for column in columns)}.")


def read_readings(path: Path, method: str) -> Table:
    """Give the readings of a file; rows that were left empty are no readings.

    Raises
    ------
    GlowtraceError
        The file cannot be read, or there is no such method.
    """
    from glowtrace.measure.methods import COLUMNS, columns_of
    from glowtrace.measure.spreadsheet import read_table

    columns_of(method)  # tells which methods there are
    written = [line for line in read_text(path).splitlines() if line.strip(_PARTING)]
    return read_table("\n".join(written), next(name for name in COLUMNS if name == method))


def read_meters(told: list[str], table: Table) -> dict[str, Instrument]:
    """Read instruments like "ruler=0.2 % of 1 mm", by the name of a meter or a column."""
    from glowtrace.measure.instrument import meter

    units = {column.meter or column.name: column.si_unit for column in table.columns}
    found = {}
    for text in told:
        name, _, value = text.partition("=")
        name = name.strip()
        error, of, step = value.rpartition("of ")
        if name not in units or not of:
            names = ", ".join(units)
            wanted = (
                f'give NAME=ERROR of STEP, with a NAME of {names}: "{next(iter(units))}=of 1 mm"'
            )
            raise BenchError("instruments", [Problem("--meter", f'"{text}"', wanted)])
        found[name] = meter(error.strip(), step.strip(), units[name])
    return found
