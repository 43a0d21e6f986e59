"""The command that measures: readings from the bench in; e/m with its uncertainty budget out."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from glowtrace.cli.known import (
    CalibrationChoice,
    KnownConstants,
    known_by_calibration,
    read_calibration,
    read_known,
)
from glowtrace.cli.options import AsJson, BenchChoice, ModelChoice, Overwrite, find_bench
from glowtrace.cli.outputs import require_new, require_place
from glowtrace.cli.printing import (
    print_json,
    print_paragraph,
    print_table,
    progress_bar,
)
from glowtrace.cli.readings import Meters, MethodName, ReadingsFile, read_meters, read_readings
from glowtrace.errors import BenchError, Problem
from glowtrace.words.bench import bench_name, model_caption

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.measure.budget import Budget
    from glowtrace.measure.experiment import Experiment
    from glowtrace.measure.fitted import Fit
    from glowtrace.measure.methods import Method
    from glowtrace.measure.readings import Table
    from glowtrace.measure.result import Result

EXAMPLES = """Examples:

\b
glowtrace measure circle circles.csv "fine-beam bulb" --meter "ruler=of 1 mm"
glowtrace measure circle circles.csv "fine-beam bulb" --model bench --out circles.json
glowtrace measure circle circles.csv "fine-beam bulb" --report circles.pdf
glowtrace measure null null.csv "deflection tube" --known "plate_gap=49.0(3) mm"
glowtrace measure null null.csv "deflection tube" --calibration latest

A table has a head and one row a reading, as in: D (mm), V_a (V), I (A)
"""


def measure(
    method: MethodName,
    readings: ReadingsFile,
    bench: BenchChoice,
    model: ModelChoice = "bench",
    meters: Meters = None,
    known: KnownConstants = None,
    calibration: CalibrationChoice = None,
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
    keeps: Annotated[
        bool, typer.Option("--keep", help="Keep it in the logbook, with bench and readings.")
    ] = False,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Measure e/m from a table of readings, with its budget.

    The bench's own dimensions are taken as exact unless --known or --calibration say otherwise;
    the result is compared with the accepted value. An empty table: glowtrace readings --help
    """
    from glowtrace.report.output import require_ending, write_output

    for path, ending in ((out, ".json"), (report, ".pdf")):
        if path is not None:
            require_ending(path, (ending,))
            require_new(path, overwrite)
            require_place(path)
    found = find_bench(bench)
    table = read_readings(readings, method)
    require_suited(table.method, found)
    constants = read_known(known or [], found, model)
    with progress_bar() as show:
        show(None, "getting ready")
        from glowtrace.bench.prepared import prepare
        from glowtrace.measure.experiment import experiment
        from glowtrace.measure.fit_budget import fit_budget
        from glowtrace.measure.result import measured_specific_charge

        if calibration is not None:
            kept = read_calibration(calibration, found)
            constants = known_by_calibration(kept, found, table.method, model) | constants
        told = {**table.instruments, **read_meters(meters or [], table)}
        table = replace(table, instruments=told)
        apparatus = prepare(found, progress=show) if model == "bench" else found
        setup = experiment(apparatus, table, model=model, known=constants)
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
    entry = _keep(found, setup, fit, result) if keeps else None
    written = [str(path) for path in (out, report) if path is not None]
    if as_json:
        more: dict[str, Any] = {} if entry is None else {"entry": entry}
        print_json(
            "measurement", record(found, setup, fit, budget, result) | {"written": written} | more
        )
    else:
        tell(found, setup, fit, budget, result)
        if calibration is not None:
            print_paragraph(
                "A calibration made by the same method brings the accepted value back by "
                "construction: such a result says nothing about e/m."
            )
        for name in written:
            typer.echo(f"written: {name}")
        if entry is not None:
            typer.echo(f"kept in the logbook: {entry}")


def require_suited(method: Method, bench: Bench) -> None:
    """Refuse a method that the bench cannot show: its result would mean nothing.

    Raises
    ------
    BenchError
        It does not suit the bench.
    """
    from glowtrace.measure.methods import COLUMNS
    from glowtrace.measure.suiting import why_not

    reason = why_not(method, bench)
    if reason is not None:
        suited = " or ".join(f'"{each}"' for each in COLUMNS if why_not(each, bench) is None)
        allowed = f"{reason}; choose {suited or 'another bench'}"
        raise BenchError(f'bench "{bench.name}"', [Problem("method", f'"{method}"', allowed)])


def _keep(bench: Bench, setup: Experiment, fit: Fit, result: Result) -> str:
    """Keep a result in the logbook as the page does; gives the name of the entry."""
    from glowtrace.measure.export import logbook_record
    from glowtrace.store import open_store

    (table,) = setup.tables
    invented = " (invented readings)" if table.is_invented else ""
    with open_store() as store:
        entry = store.logbook.add(
            "result",
            f"{result.sentence.partition(';')[0]}, {table.method}{invented}",
            bench=bench,
            payload=logbook_record(setup, fit),
        )
    return entry.id


def record(
    bench: Bench, setup: Experiment, fit: Fit, budget: Budget, result: Result
) -> dict[str, Any]:
    """Give the result as plain data; numbers carry their unit in the key or beside them.

    What is known beforehand has the value null where it is as drawn, and the uncertainty null
    where it is free.
    """
    from glowtrace.measure.tube import TUBE_PARAMETERS

    return {
        "bench": {"name": bench.name, "invented": bench.invented},
        "method": setup.tables[0].method,
        "readings_invented": setup.tables[0].is_invented,
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
        "known": {
            name: {
                "value": each.value,
                "uncertainty": each.uncertainty if math.isfinite(each.uncertainty) else None,
                "unit": TUBE_PARAMETERS[name][1],
            }
            for name, each in setup.known.items()
        },
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


def tell(bench: Bench, setup: Experiment, fit: Fit, budget: Budget, result: Result) -> None:
    """Tell a result with its budget in words."""
    typer.echo(bench_name(bench))
    if setup.tables[0].is_invented:
        print_paragraph("From invented readings: it says nothing about a real tube.")
    print_paragraph(f"{result.sentence}.")
    print_paragraph(f"It {result.verdict} ({100 * result.relative_deviation:+.2f} %).")
    print_paragraph(
        f"Model: {model_caption(setup.model)}. Chi-square {fit.chi_square:.3g} for "
        f"{fit.degrees_of_freedom} degree{'' if fit.degrees_of_freedom == 1 else 's'} of freedom. "
        f"Fit {fit.verdict}."
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
