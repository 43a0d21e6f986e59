"""The command that writes a run sheet: settings, wiring, steps and safety on paper."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, NoReturn

import typer

from glowtrace.cli.frame import about, getting_ready, present
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
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.plan import Fixed, TakeAnswer, make_plan, read_fixed, take_answer
from glowtrace.cli.printing import print_json, progress_bar
from glowtrace.cli.safety import read_room_temperature, read_run_minutes
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.prepared import PreparedBench
    from glowtrace.plan import Plan, Planned

NO = 1
"""Exit code where the goal is refused, or the sheet says stop."""
_ENDINGS = (".pdf", ".md")

EXAMPLES = """Examples:

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
    from glowtrace.report.output import write_output

    require_one_start(goal, options, targets, fix)
    minutes, room = read_run_minutes(run_time), read_room_temperature(room_temperature)
    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        out = outputs.require("--out", out, _ENDINGS)
        found = find_bench(bench)
        if goal is None:
            settings = options.choose_freely(found)
            prepared, plan = made_ready(found), None
        else:
            prepared, plan = planned_for("sheet", found, goal, targets, fix, take, as_json)
            settings = plan.settings
        from glowtrace.report.run_sheets.markdown import markdown
        from glowtrace.report.run_sheets.run_sheet import build_run_sheet, print_run_sheet

        with progress_bar() as show:
            show(None, "writing the sheet")
            made = build_run_sheet(
                prepared, settings, plan=plan, run_minutes=minutes, room_temperature=room,
                earthed=earth,
            )  # fmt: skip
            is_pdf = out.suffix.lower() == ".pdf"
            content = print_run_sheet(made, paper) if is_pdf else markdown(made).encode()
        write_output(out, content)
        outputs.note(out)
        present(
            outputs,
            "sheet",
            lambda: {"verdict": made.verdict,
                     "stops": [f"{line.topic}: {line.advice}" for line in made.stops]},
            lambda: typer.echo(f"safety check: {made.verdict}; see: glowtrace safety"),
            as_json=as_json,
            bench=found,
            settings=settings,
        )  # fmt: skip
    if made.verdict == "stop":
        raise typer.Exit(NO)


def require_one_start(
    goal: str | None,
    options: SettingsOptions,
    targets: GoalTargets,
    fix: list[str] | None,
    subject: str = "run sheet",
) -> None:
    """Refuse settings beside a goal, and what belongs to a goal without one."""
    if goal is not None and options.are_told:
        wanted = "the plan gives the settings: use --fix, or leave --goal out"
        raise BenchError(subject, [Problem("settings", "beside --goal", wanted)])
    if goal is None and (targets.told or fix):
        wanted = "targets and --fix belong to a goal: give --goal as well"
        raise BenchError(subject, [Problem("--goal", "nothing", wanted)])


def made_ready(bench: Bench) -> PreparedBench:
    """Give a bench with its fields."""
    with getting_ready(bench) as (prepared, _):
        return prepared


def planned_for(
    kind: str,
    bench: Bench,
    goal: str,
    targets: GoalTargets,
    fix: list[str] | None,
    take: int,
    as_json: bool,
) -> tuple[PreparedBench, Plan]:
    """Plan a goal and take the answer that is wanted; a refusal is told and ends the command."""
    prepared, planned = make_plan(bench, goal, targets, read_fixed(fix or ()), answers=take)
    if planned.refusal is not None:
        _refuse(kind, planned, bench, goal, as_json)
    return prepared, take_answer(planned, take)


def _refuse(kind: str, planned: Planned, bench: Bench, goal: str, as_json: bool) -> NoReturn:
    """Tell why the goal is out of reach, and end the command."""
    if as_json:
        print_json(kind, about(bench) | planned.as_dict() | {"written": []})
    else:
        from glowtrace.cli.plan_words import tell_plan

        tell_plan(planned, bench, goal)
    raise typer.Exit(NO)
