"""The command that measures: readings from the bench in; e/m with its uncertainty budget out."""

from __future__ import annotations

import math
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
from glowtrace.cli.readings import (
    Columns,
    Every,
    Meters,
    MethodName,
    ReadingsFile,
    read_readings,
    with_meters,
)
from glowtrace.errors import BenchError, Problem
from glowtrace.words.bench import bench_name, model_caption

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.measure.experiment import Experiment
    from glowtrace.measure.findings import Findings
    from glowtrace.measure.fits.budget import Budget
    from glowtrace.measure.fits.fitted import Fit
    from glowtrace.measure.methods import Method
    from glowtrace.measure.result import Result
    from glowtrace.measure.tables.readings import Table

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
    columns: Columns = None,
    every: Every = None,
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

    The bench's own dimensions count with the uncertainties that its file tells, and as exact where
    it tells none; --known and --calibration say otherwise. The result is compared with the
    accepted value. An empty table: glowtrace readings --help
    """
    from glowtrace.report.output import require_ending, write_output

    for path, ending in ((out, ".json"), (report, ".pdf")):
        if path is not None:
            require_ending(path, (ending,))
            require_new(path, overwrite)
            require_place(path)
    found = find_bench(bench)
    table = read_readings(readings, method, columns, every or ())
    require_suited(table.method, found)
    table = with_meters(table, meters or [])
    constants = read_known(known or [], found, model)
    with progress_bar() as show:
        show(None, "getting ready")
        from glowtrace.bench.prepared import prepare
        from glowtrace.measure.experiment import experiment
        from glowtrace.measure.findings import find
        from glowtrace.measure.fit_budget import fit_budget
        from glowtrace.measure.result import measured_specific_charge
        from glowtrace.measure.usual_meters import usual_knowledge

        if calibration is not None:
            kept = read_calibration(calibration, found)
            constants = known_by_calibration(kept, found, table.method, model) | constants
        constants = usual_knowledge(found, table, model=model) | constants
        apparatus = prepare(found, progress=show) if model == "bench" else found
        setup = experiment(apparatus, table, model=model, known=constants)
        show(None, "fitting")
        setup, fit = setup.fitted(robust=robust)
        budget = fit_budget(setup, fit)
        result = measured_specific_charge(budget)
        findings = find(setup, fit)
    if out is not None:
        from glowtrace.measure.export import export_measurement

        write_output(out, export_measurement(setup, fit, findings).encode())
    if report is not None:
        from glowtrace.report.measurement.report import save_measurement

        save_measurement(report, setup, fit, findings=findings)
    entry = _keep(found, setup, fit, result, findings) if keeps else None
    written = [str(path) for path in (out, report) if path is not None]
    if as_json:
        more: dict[str, Any] = {} if entry is None else {"entry": entry}
        print_json(
            "measurement",
            record(found, setup, fit, budget, result, findings) | {"written": written} | more,
        )
    else:
        tell(found, setup, fit, budget, result, findings)
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


def _keep(bench: Bench, setup: Experiment, fit: Fit, result: Result, findings: Findings) -> str:
    """Keep a result in the logbook as the page does; gives the name of the entry."""
    from glowtrace.measure.export import logbook_record
    from glowtrace.store import open_store

    (table,) = setup.tables
    invented = " (invented readings)" if table.is_invented else ""
    with open_store() as store:
        entry = store.logbook.add(
            "result",
            f"{result.name} = {result.text}, {table.method}{invented}",
            bench=bench,
            payload=logbook_record(setup, fit, findings),
        )
    return entry.id


def record(
    bench: Bench, setup: Experiment, fit: Fit, budget: Budget, result: Result, findings: Findings
) -> dict[str, Any]:
    """Give the result as plain data; numbers carry their unit in the key or beside them.

    Where the interval does not hold, coverage factor and what follows from it are null.

    What is known beforehand has the value null where it is as drawn, and the uncertainty null
    where it is free.
    """
    from glowtrace.measure.findings import SPECIFIC_CHARGE, constants_data, findings_data
    from glowtrace.measure.tube import TUBE_PARAMETERS

    holds = findings.interval_holds
    return {
        "bench": {"name": bench.name, "invented": bench.invented},
        "method": setup.tables[0].method,
        "readings_invented": setup.tables[0].is_invented,
        "model": setup.model,
        "specific_charge_c_per_kg": result.value,
        "uncertainty_c_per_kg": result.uncertainty,
        "coverage_factor": result.coverage_factor if holds else None,
        "level": result.level,
        "reference_c_per_kg": result.reference,
        "e_n": result.e_n if holds else None,
        "agrees": result.agrees if holds else None,
        "fit_verdict": fit.verdict,
        "p_value": None if math.isnan(fit.p_value) else fit.p_value,
        "chi_square": fit.chi_square,
        "degrees_of_freedom": fit.degrees_of_freedom,
        "rows_left_out": [
            {"row": number + 1, "why": why} for number, why in _faults(setup.tables[0])
        ],
        "findings": findings_data(findings, SPECIFIC_CHARGE),
        "constants": constants_data(fit),
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


def tell(
    bench: Bench, setup: Experiment, fit: Fit, budget: Budget, result: Result, findings: Findings
) -> None:
    """Tell a result with its budget in words."""
    from glowtrace.measure.findings import SPECIFIC_CHARGE
    from glowtrace.measure.fits.separability import separability
    from glowtrace.report.measurement.fit_words import (
        agreement_sentence,
        chi_square_sentence,
        finding_sentences,
        result_sentence,
        separability_sentences,
        verdict_sentence,
    )

    typer.echo(bench_name(bench))
    if setup.tables[0].is_invented:
        print_paragraph("From invented readings: it says nothing about a real tube.")
    print_paragraph(result_sentence(result, findings))
    print_paragraph(agreement_sentence(result, findings))
    columns = setup.tables[0].columns
    for sentence in finding_sentences(fit, findings, SPECIFIC_CHARGE, columns):
        print_paragraph(sentence)
    model = model_caption(setup.model)
    print_paragraph(f"{verdict_sentence(fit)} {chi_square_sentence(fit)} Model: {model}.")
    for row, why in _faults(setup.tables[0]):
        print_paragraph(f"Row {row + 1} was left out: {why}.")
    for sentence in separability_sentences(separability(fit)):
        print_paragraph(sentence)
    typer.echo()
    print_table(
        ("uncertainty from", "kind", "of e/m", "share"),
        [(line.name, line.kind, f"{100 * line.contribution / abs(result.value):.3f} %",
          f"{100 * line.share:.0f} %") for line in budget.lines],
        numbers=(2, 3),
    )  # fmt: skip
    _tell_constants(fit)
    if setup.taken_as_exact:
        typer.echo()
        print_paragraph(f"Taken as exact: {', '.join(setup.taken_as_exact)}.")


def _tell_constants(fit: Fit) -> None:
    """Tell what was known beforehand about each constant and error, and what was fitted."""
    from glowtrace.measure.findings import SPECIFIC_CHARGE
    from glowtrace.report.measurement.words import measurement_text

    told = [each for each in fit.parameters if not (each.is_exact or each.part_of)]
    rows = [
        (
            each.title,
            "free" if each.is_free else measurement_text(each.value, each.spread, each.unit),
            measurement_text(fit.value(each.name), fit.uncertainty(each.name), each.unit),
        )
        for each in told
        if each.name != SPECIFIC_CHARGE
    ]
    if rows:
        typer.echo()
        print_table(("fitted along", "beforehand", "fitted"), rows)
