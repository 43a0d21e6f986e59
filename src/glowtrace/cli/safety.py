"""The command that holds a bench at its settings against ratings and published limits."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

import typer

from glowtrace.cli.frame import heading, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import AsJson, BenchChoice, Full, RoomTemperature, RunTime, find_bench
from glowtrace.cli.printing import print_paragraph
from glowtrace.cli.ranges import read_quantity

if TYPE_CHECKING:
    from glowtrace.safety.review import SafetyReport

STOPPED_BY_SAFETY = 1
"""Exit code where a line says: do not switch on."""

_HEADINGS = {"stop": "Stop", "attention": "Attention", "ok": "Within the limits"}

EXAMPLES = """Examples:

\b
glowtrace safety "deflection tube" --accelerating "4 kV" --coil "1 A" --run-time "10 min"
glowtrace safety my-tube.toml --settings null.toml --json
"""


@with_groups
def safety(
    bench: BenchChoice,
    options: SettingsOptions,
    run_time: RunTime = "15 min",
    room_temperature: RoomTemperature = "20 degC",
    full: Full = False,
    as_json: AsJson = False,
) -> None:
    """Check settings against ratings and published limits.

    Settings beyond a rating are checked too. Where a line says stop, the exit code is 1. Local
    rules and the person responsible decide; this helps them to see.
    """
    from glowtrace.safety.review import check_safety
    from glowtrace.words.safety import told_report

    found = find_bench(bench)
    settings = options.choose_freely(found)
    report = check_safety(
        found,
        settings,
        run_minutes=read_run_minutes(run_time),
        room_temperature=read_room_temperature(room_temperature),
    )
    present(
        None,
        "safety",
        lambda: {"verdict": report.verdict, **asdict(told_report(report))},
        lambda: _tell(report, is_full=full),
        as_json=as_json,
        bench=found,
        settings=settings,
    )
    if report.has_stop:
        raise typer.Exit(STOPPED_BY_SAFETY)


def read_run_minutes(text: str) -> float:
    """Read a time like "10 min" as minutes."""
    return read_quantity("safety check", "--run-time", text, "s") / 60.0


def read_room_temperature(text: str) -> float:
    """Read a temperature like "20 degC" as kelvins."""
    return read_quantity("safety check", "--room-temperature", text, "K")


def _tell(report: SafetyReport, *, is_full: bool) -> None:
    """Tell the verdicts, the gravest first; in full also what is kept and where limits are from."""
    from glowtrace.report.run_sheets.safety import printed_lines
    from glowtrace.words.telling import tell

    lines, sources = printed_lines(report.lines)
    typer.echo(f"verdict: {report.verdict}")
    for verdict, head in _HEADINGS.items():
        of_it = [line for line in lines if line.verdict == verdict]
        if of_it:
            heading(head)
        for line in of_it:
            if verdict == "ok" and not is_full:
                print_paragraph(f"{line.topic}: {line.value}; {line.margin}", lead="  ")
                continue
            margin = "" if line.margin == "–" else f"; {line.margin}"
            print_paragraph(f"{line.topic}: {line.value}", lead="  ")
            print_paragraph(f"limit: {line.limit} [{line.source}]{margin}", lead="    ")
            print_paragraph(line.advice, lead="    ")
            typer.echo()
    if not is_full:
        told = {line.source for line in lines if line.verdict != "ok"}
        sources = tuple(each for each in sources if each[0] in told)
    heading("Always")
    for caution in report.cautions:
        print_paragraph(tell(caution), lead="  - ")
    if sources:
        heading("Where these limits are from")
    for letter, source in sources:
        print_paragraph(source, lead=f"  [{letter}] ")
    if not is_full:
        typer.echo("\nEvery line with its limit and its source: --full")
