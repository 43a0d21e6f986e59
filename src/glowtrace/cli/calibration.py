"""Commands about a tube's own constants: made from readings, kept with the bench, listed, saved."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.frame import present
from glowtrace.cli.known import KnownConstants, read_calibration, read_known
from glowtrace.cli.loading import group
from glowtrace.cli.options import AsJson, BenchChoice, ModelChoice, Overwrite, find_bench
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_json, print_paragraph, print_table, progress_bar
from glowtrace.cli.readings import (
    Columns,
    Every,
    Meters,
    MethodName,
    ReadingsFile,
    read_readings,
    with_meters,
)
from glowtrace.errors import GlowtraceError, Problem

if TYPE_CHECKING:
    from glowtrace.measure.calibration import CalibrationRun, TubeCalibration
    from glowtrace.store.calibrations import KeptCalibration

calibration_commands = group("A tube's plate and coil factors, kept with its bench.")

_MAKE_EXAMPLES = """Examples:

\b
glowtrace calibration make "plates only" points.csv "deflection tube"
glowtrace measure null null.csv "deflection tube" --calibration latest
"""


@calibration_commands.command(epilog=_MAKE_EXAMPLES)
def make(
    method: MethodName,
    readings: ReadingsFile,
    bench: BenchChoice,
    model: ModelChoice = "bench",
    columns: Columns = None,
    every: Every = None,
    meters: Meters = None,
    known: KnownConstants = None,
    date: Annotated[
        str, typer.Option(metavar="YEAR-MONTH-DAY", help="Of the readings; today if left out.")
    ] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="Anything worth keeping.")] = "",
    keeps: Annotated[
        bool, typer.Option("--keep/--no-keep", help="Keep it with the bench, in the logbook.")
    ] = True,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write it to a .json file too.")
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Find a tube's plate and coil factors, and keep them.

    How strongly its plates and coils act follows from readings with e/m as accepted. Plates only
    gives the plate factor; coils only, circles and axial foci the coil factor.
    """
    from glowtrace.measure.usual_meters import usual_knowledge
    from glowtrace.report.output import write_output

    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        out = outputs.want("--out", out, (".json",))
        day = _day(date)
        found = find_bench(bench)
        table = read_readings(readings, method, columns, every or ())
        table = with_meters(table, meters or [])
        constants = usual_knowledge(found, table) | read_known(known or [], found, model)
        with progress_bar() as show:
            show(None, "getting ready")
            from glowtrace.bench.prepared import prepare
            from glowtrace.measure.calibration import calibrate_tube

            apparatus = prepare(found, progress=show) if model == "bench" else found
            show(None, "fitting")
            run = calibrate_tube(
                apparatus, table, model=model, date=day, known=constants,
                note=" ".join(note.split()),
            )  # fmt: skip
        if out is not None:
            write_output(out, run.calibration.to_json().encode())
            outputs.note(out)
        kept = _keep(run) if keeps else None
        present(
            outputs,
            "calibration",
            lambda: _record(run.calibration, kept),
            lambda: _tell(run, kept),
            as_json=as_json,
        )


def _tell(run: CalibrationRun, kept: KeptCalibration | None) -> None:
    from glowtrace.measure.findings import find
    from glowtrace.report.measurement.fit_words import finding_sentences, verdict_sentence
    from glowtrace.store.calibrations import calibration_words

    name = run.experiment.bench.name
    print_paragraph(f"{name}: {calibration_words(run.calibration)}, with e/m as accepted.")
    findings = find(run.experiment, run.fit)
    wanted = next(each.name for each in run.fit.parameters if each.is_free)
    columns = run.experiment.tables[0].columns
    for sentence in finding_sentences(run.fit, findings, wanted, columns):
        print_paragraph(sentence)
    print_paragraph(verdict_sentence(run.fit))
    if kept is not None:
        typer.echo(f"kept: {kept.id}")


@calibration_commands.command("list", epilog="Example: glowtrace calibration list my-tube.toml")
def list_calibrations(
    bench: Annotated[
        str | None,
        typer.Argument(
            show_default=False, help="A bench by its name or file; those of all if left out."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the calibrations kept for a bench, newest first."""
    from glowtrace.store import open_store

    found = None if bench is None else find_bench(bench)
    with open_store() as store:
        kept = store.calibrations.list(found)
    if as_json:
        listed = [_record(each.calibration, each) for each in kept]
        print_json("calibrations", {"calibrations": listed})
        return
    if not kept:
        typer.echo("None is kept. See: glowtrace calibration make --help")
        return
    from glowtrace.store.calibrations import calibration_words

    print_table(
        ("entry", "date", "bench", "calibration", "note"),
        [
            (each.id, f"{each.calibration.date}", each.bench_name,
             calibration_words(each.calibration), each.calibration.note)
            for each in kept
        ],
    )  # fmt: skip


@calibration_commands.command(
    epilog='Example: glowtrace calibration add tube.json "deflection tube"'
)
def add(
    file: Annotated[Path, typer.Argument(show_default=False, help="A calibration file (.json).")],
    bench: BenchChoice,
) -> None:
    """Keep the calibration of a file with its bench."""
    from glowtrace.report.output import require_ending
    from glowtrace.store import open_store

    require_ending(file, (".json",))
    found = find_bench(bench)
    calibration = read_calibration(str(file), found)
    with open_store() as store:
        kept = store.calibrations.keep(calibration, found)
    typer.echo(f"kept: {kept.id}")


@calibration_commands.command(
    epilog="Example: glowtrace calibration save 0123456789abcdef tube.json"
)
def save(
    entry: Annotated[
        str, typer.Argument(show_default=False, help="The name of the entry, or its beginning.")
    ],
    file: Annotated[Path, typer.Argument(show_default=False, help="The .json file to write.")],
    overwrite: Overwrite = False,
) -> None:
    """Write a kept calibration to a file, for another computer."""
    from glowtrace.report.output import write_output
    from glowtrace.store import open_store

    with Outputs(overwrite=overwrite) as outputs:
        path = outputs.require("FILE", file, (".json",))
        with open_store() as store:
            kept = store.calibrations.open(entry)
        write_output(path, kept.calibration.to_json().encode())
        outputs.note(path)
        with outputs.telling():
            pass


def _keep(run: CalibrationRun) -> KeptCalibration:
    from glowtrace.measure.export import logbook_record
    from glowtrace.store import open_store

    data = logbook_record(run.experiment, run.fit)
    with open_store() as store:
        return store.calibrations.keep(run.calibration, run.experiment.bench, data=data)


def _day(text: str) -> datetime.date:
    if not text:
        return datetime.date.today()
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        wanted = "give a day as in 2026-11-26"
        raise GlowtraceError(Problem("--date", f'"{text}"', wanted)) from None


def _record(calibration: TubeCalibration, kept: KeptCalibration | None) -> dict[str, Any]:
    """Give a calibration as plain data; the factors have no unit."""
    return {
        "entry": None if kept is None else kept.id,
        "bench": None if kept is None else kept.bench_name,
        "calibration": json.loads(calibration.to_json()),
    }
