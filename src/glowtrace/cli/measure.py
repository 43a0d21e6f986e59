"""The command that measures: readings from the bench in; e/m with its uncertainty budget out."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from glowtrace.cli.options import AsJson, BenchChoice, ModelChoice, Overwrite, find_bench
from glowtrace.cli.printing import (
    print_json,
    print_paragraph,
    print_table,
    progress_bar,
    require_new,
)
from glowtrace.errors import BenchError, GlowtraceError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.measure.budget import Budget
    from glowtrace.measure.experiment import Experiment
    from glowtrace.measure.fitted import Fit
    from glowtrace.measure.instrument import Instrument
    from glowtrace.measure.readings import Table
    from glowtrace.measure.result import Result

MEASURE_EXAMPLES = """Examples:

\b
glowtrace measure circle circles.csv "fine-beam bulb" --meter "ruler=of 1 mm"
glowtrace measure circle circles.csv "fine-beam bulb" --model bench --out circles.json
glowtrace measure circle circles.csv "fine-beam bulb" --report circles.pdf

A table has a head and one row a reading, as in: D (mm), V_a (V), I (A)
"""


def measure(
    method: Annotated[
        str,
        typer.Argument(
            show_default=False,
            help='What was read: "plates only", "coils only", "null", "circle", "axial focus" '
            'or "turn-back".',
        ),
    ],
    readings: Annotated[
        Path, typer.Argument(show_default=False, help="A table of readings: a CSV or text file.")
    ],
    bench: BenchChoice,
    model: ModelChoice = "bench",
    meters: Annotated[
        list[str] | None,
        typer.Option(
            "--meter",
            metavar="NAME=ERROR of STEP",
            help='What an instrument is good for, as in "coil_current=0.5 % + 2 digits of 10 mA" '
            'or "ruler=of 1 mm"; may be repeated. A quantity without one is taken as exact.',
        ),
    ] = None,
    robust: Annotated[
        Literal["none", "huber", "student"],
        typer.Option(help="How rows far out count: fully (none), or less."),
    ] = "none",
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write all that is needed to redo it to a .json file."),
    ] = None,
    report: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the printable report to a .pdf file."),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Measure e/m from a table of readings, with its budget.

    The bench's own dimensions are taken as exact; the result is compared with the accepted value.
    """
    from glowtrace.report.output import require_ending, write_output

    for path, ending in ((out, ".json"), (report, ".pdf")):
        if path is not None:
            require_ending(path, (ending,))
            require_new(path, overwrite)
    found = find_bench(bench)
    table = _read_readings(readings, method)
    with progress_bar() as show:
        show(None, "getting ready")
        from glowtrace.bench.prepared import prepare
        from glowtrace.measure.experiment import experiment
        from glowtrace.measure.fit_budget import fit_budget
        from glowtrace.measure.result import measured_specific_charge

        known = {name.partition("=")[0].strip(): name for name in meters or ()}
        table = replace(table, instruments={**table.instruments, **_read_meters(known, table)})
        apparatus = prepare(found, progress=show) if model == "bench" else found
        setup = experiment(apparatus, table, model=model)
        show(None, "fitting")
        fit = setup.fit(robust=robust)
        budget = fit_budget(setup, fit)
        result = measured_specific_charge(budget)
    if out is not None:
        from glowtrace.measure.export import export_measurement

        write_output(out, export_measurement(setup, fit).encode())
    if report is not None:
        from glowtrace.report.measurement_report import save_measurement

        save_measurement(report, setup, fit)
    written = [str(path) for path in (out, report) if path is not None]
    if as_json:
        print_json(_record(found, setup, fit, budget, result) | {"written": written})
    else:
        _tell(found, setup, fit, budget, result)
        for name in written:
            typer.echo(f"written: {name}")


def _read_readings(path: Path, method: str) -> Table:
    from glowtrace.measure.methods import COLUMNS, columns_of
    from glowtrace.measure.spreadsheet import read_table

    columns_of(method)  # tells which methods there are
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it is no text"
        raise GlowtraceError(f'"{path}" cannot be read: {reason.lower()}.') from None
    return read_table(text, next(name for name in COLUMNS if name == method))


def _read_meters(told: dict[str, str], table: Table) -> dict[str, Instrument]:
    """Read instruments like "ruler=0.2 % of 1 mm", by the name of a meter or a column."""
    from glowtrace.measure.instrument import meter

    units = {column.meter or column.name: column.si_unit for column in table.columns}
    found = {}
    for name, text in told.items():
        error, of, step = text.partition("=")[2].rpartition("of ")
        if name not in units or not of:
            names = ", ".join(units)
            wanted = (
                f'give NAME=ERROR of STEP, with a NAME of {names}: "{next(iter(units))}=of 1 mm"'
            )
            raise BenchError("instruments", [Problem("--meter", f'"{text}"', wanted)])
        found[name] = meter(error.strip(), step.strip(), units[name])
    return found


def _record(
    bench: Bench, setup: Experiment, fit: Fit, budget: Budget, result: Result
) -> dict[str, Any]:
    """Give the result as plain data; numbers carry their unit in the key."""
    return {
        "bench": {"name": bench.name, "invented": bench.invented},
        "method": setup.tables[0].method,
        "model": setup.model,
        "specific_charge_c_per_kg": result.value,
        "uncertainty_c_per_kg": result.uncertainty,
        "coverage_factor": result.coverage_factor,
        "level": result.level,
        "reference_c_per_kg": result.reference,
        "e_n": result.e_n,
        "verdict": result.verdict,
        "chi_square": fit.chi_square,
        "degrees_of_freedom": fit.degrees_of_freedom,
        "rows_left_out": [
            {"row": number + 1, "why": why} for number, why in _faults(setup.tables[0])
        ],
        "outlying_rows": [row + 1 for row in _outliers(setup, fit)],
        "taken_as_exact": list(setup.taken_as_exact),
        "budget": [
            {
                "name": line.name,
                "kind": line.kind,
                "contribution_c_per_kg": line.contribution,
                "share": line.share if math.isfinite(line.share) else None,
            }
            for line in budget.lines
        ],
    }


def _faults(table: Table) -> list[tuple[int, str]]:
    return [(row, table.fault(row)) for row in range(len(table.rows)) if table.fault(row)]


def _outliers(setup: Experiment, fit: Fit) -> list[int]:
    """Give the places in the table of the rows that lie far out."""
    usable = setup.tables[0].usable
    return [int(usable[row]) for row in fit.fitted[0].outliers]


def _tell(bench: Bench, setup: Experiment, fit: Fit, budget: Budget, result: Result) -> None:
    from glowtrace.report.caption import MODEL_WORDS

    typer.echo(f"{bench.name}{' (invented, for demonstration)' if bench.invented else ''}")
    print_paragraph(f"{result.sentence}.")
    print_paragraph(f"It {result.verdict} ({100 * result.relative_deviation:+.2f} %).")
    print_paragraph(
        f"Model: {MODEL_WORDS[setup.model]}. Chi-square {fit.chi_square:.3g} for "
        f"{fit.degrees_of_freedom} degrees of freedom."
    )
    if not fit.is_settled:
        print_paragraph("The fit did not come to rest: take the result with care.")
    for row, why in _faults(setup.tables[0]):
        print_paragraph(f"Row {row + 1} was left out: {why}.")
    for row in _outliers(setup, fit):
        print_paragraph(f"Row {row + 1} lies far out: look at it again.")
    typer.echo()
    print_table(
        ("uncertainty from", "kind", "of e/m", "share"),
        [(line.name, line.kind, f"{100 * line.contribution / abs(result.value):.3f} %",
          f"{100 * line.share:.0f} %") for line in budget.lines],
        numbers=(2, 3),
    )  # fmt: skip
    if setup.taken_as_exact:
        typer.echo()
        print_paragraph(f"Taken as exact: {', '.join(setup.taken_as_exact)}.")
