"""The command that writes a run sheet: settings, wiring, steps and safety on paper."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from glowtrace.cli.goals import GoalTargets
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import (
    AsJson,
    BenchChoice,
    EarthChoice,
    Overwrite,
    RoomTemperature,
    RunTime,
    find_bench,
)
from glowtrace.cli.plan import Fixed, TakeAnswer, make_plan, read_fixed, take_answer
from glowtrace.cli.printing import print_json, progress_bar, require_new
from glowtrace.cli.safety import read_room_temperature, read_run_minutes
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.prepared import PreparedBench
    from glowtrace.bench.settings import Settings
    from glowtrace.plan import Plan

NO = 1
"""Exit code where the goal is refused, or the sheet says stop."""
_ENDINGS = (".pdf", ".md")

SHEET_EXAMPLES = """Examples:

\b
glowtrace sheet "deflection tube" --goal null --out null.pdf
glowtrace sheet "deflection tube" --goal "plate deflection" --height "1 cm" --out up.md
glowtrace sheet my-tube.toml --settings null.toml --paper us-letter --out null.pdf
"""


@with_groups
def sheet(
    bench: BenchChoice,
    options: SettingsOptions,
    out: Annotated[
        Path, typer.Option(metavar="FILE", help="The file to write: .pdf, or .md for Markdown.")
    ],
    targets: GoalTargets,
    goal: Annotated[
        str | None,
        typer.Option(metavar="GOAL", help="Plan this goal first, in place of settings."),
    ] = None,
    fix: Fixed = None,
    take: TakeAnswer = 1,
    paper: Annotated[Literal["a4", "us-letter"], typer.Option(help="Of the PDF.")] = "a4",
    earth: EarthChoice = "anode",
    run_time: RunTime = "15 min",
    room_temperature: RoomTemperature = "20 degC",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Write a run sheet: what to connect, set, see and say.

    The exit code is 1 where the goal cannot be reached (no sheet is written), or where the sheet
    says stop.
    """
    from glowtrace.report.output import require_ending, write_output

    ending = require_ending(out, _ENDINGS)
    _require_one_start(goal, options, targets, fix)
    require_new(out, overwrite)
    minutes, room = read_run_minutes(run_time), read_room_temperature(room_temperature)
    found = find_bench(bench)
    prepared, settings, plan = (
        _from_options(found, options)
        if goal is None
        else _from_goal(found, goal, targets, read_fixed(fix or ()), take, as_json)
    )
    from glowtrace.report.run_sheet import build_run_sheet, print_run_sheet
    from glowtrace.report.run_sheet_markdown import markdown

    with progress_bar() as show:
        show(None, "writing the sheet")
        made = build_run_sheet(
            prepared, settings, plan=plan, run_minutes=minutes, room_temperature=room, earthed=earth
        )
        content = print_run_sheet(made, paper) if ending == ".pdf" else markdown(made).encode()
    write_output(out, content)
    if as_json:
        from glowtrace.bench.ratings import settings_record

        print_json({"bench": {"name": found.name, "invented": found.invented},
                    "settings": settings_record(settings), "verdict": made.verdict,
                    "stops": [f"{line.topic}: {line.advice}" for line in made.stops],
                    "written": [str(out)]})  # fmt: skip
    else:
        from glowtrace.report.caption import settings_words

        typer.echo(" · ".join(settings_words(settings, found)))
        typer.echo(f"safety check: {made.verdict}; see: glowtrace safety")
        typer.echo(f"written: {out}")
    if made.verdict == "stop":
        raise typer.Exit(NO)


def _require_one_start(
    goal: str | None, options: SettingsOptions, targets: GoalTargets, fix: list[str] | None
) -> None:
    """Refuse settings beside a goal, and what belongs to a goal without one."""
    if goal is not None and options.are_told:
        wanted = "the plan gives the settings: use --fix, or leave --goal out"
        raise BenchError("run sheet", [Problem("settings", "beside --goal", wanted)])
    if goal is None and (targets.told or fix):
        wanted = "targets and --fix belong to a goal: give --goal as well"
        raise BenchError("run sheet", [Problem("--goal", "nothing", wanted)])


def _from_options(bench: Bench, options: SettingsOptions) -> tuple[PreparedBench, Settings, None]:
    settings = options.choose_freely(bench)
    with progress_bar() as show:
        show(None, "getting ready")
        from glowtrace.bench.prepared import prepare

        return prepare(bench, progress=show), settings, None


def _from_goal(
    bench: Bench,
    goal: str,
    targets: GoalTargets,
    fixed: dict[str, object],
    take: int,
    as_json: bool,
) -> tuple[PreparedBench, Settings, Plan]:
    """Plan first; a refusal is told, and ends the command."""
    prepared, planned = make_plan(bench, goal, targets, fixed, answers=take)
    if planned.refusal is not None:
        if as_json:
            print_json({"bench": {"name": bench.name, "invented": bench.invented},
                        "refusal": planned.refusal.as_dict(), "written": []})  # fmt: skip
        else:
            from glowtrace.cli.plan_words import tell_plan

            tell_plan(planned, bench, goal)
        raise typer.Exit(NO)
    plan = take_answer(planned, take)
    return prepared, plan.settings, plan
