"""The command that plans: a bench and a goal in; settings with their tolerances, or why none."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.frame import about, getting_ready, present
from glowtrace.cli.goals import GoalName, GoalTargets, choose_goal
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import setting_named
from glowtrace.cli.options import (
    AsJson,
    BenchChoice,
    Full,
    ModelChoice,
    Overwrite,
    PictureFile,
    PrintLook,
    find_bench,
    saved_settings,
)
from glowtrace.cli.outputs import Outputs
from glowtrace.errors import BenchError, GlowtraceError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.picture import Model
    from glowtrace.bench.prepared import PreparedBench
    from glowtrace.plan import Plan, Planned

REFUSED = 1
"""Exit code of a result that says no."""
_MOST_ANSWERS = 20
_ELECTRONS = 20_000  # of the picture that is drawn

EXAMPLES = """Examples:

\b
glowtrace plan "deflection tube" "plate deflection" --height "1 cm"
glowtrace plan "deflection tube" null --fix "accelerating=3 kV" --save "null at 3 kV"
glowtrace plan "fine-beam bulb" "full circle" --diameter "8 cm" --picture circle.png
"""

Fixed = Annotated[
    list[str] | None,
    typer.Option(
        "--fix",
        metavar="SETTING=VALUE",
        help='Leave a setting at a value, as in "accelerating=3 kV"; may be repeated.',
    ),
]
TakeAnswer = Annotated[
    int,
    typer.Option("--take", metavar="N", min=1, max=_MOST_ANSWERS, help="Which answer to keep."),
]


@with_groups
def plan(
    bench: BenchChoice,
    goal: GoalName,
    targets: GoalTargets,
    fix: Fixed = None,
    model: ModelChoice = "bench",
    answers: Annotated[
        int, typer.Option(metavar="N", min=1, max=_MOST_ANSWERS, help="How many to give at most.")
    ] = 3,
    take: TakeAnswer = 1,
    save: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Save the settings under a name, with the bench."),
    ] = None,
    settings_file: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the settings to a .toml file.")
    ] = None,
    picture: PictureFile = None,
    print_look: PrintLook = False,
    full: Full = False,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Find settings for a goal, and the window of each knob.

    Where there are none, it says which rating stops it, what comes nearest and what would help;
    that is a result, and the exit code is 1.
    """
    from glowtrace.report.output import PICTURE_ENDINGS

    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        picture = outputs.want("--picture", picture, PICTURE_ENDINGS)
        settings_file = outputs.want("--settings-file", settings_file, (".toml",))
        found = find_bench(bench)
        fixed = read_fixed(fix or ())
        require_free_name(save, overwrite)
        prepared, planned = make_plan(found, goal, targets, fixed, model, max(answers, take))
        done: dict[str, str] = {}
        if planned.answers:
            chosen = take_answer(planned, take)
            if save is not None:
                done["saved_as"] = _save(prepared, chosen, save, overwrite)
            if settings_file is not None:
                from glowtrace.bench.files import save_settings

                save_settings(chosen.settings, settings_file)
                outputs.note(settings_file)
            if picture is not None:
                _draw(picture, prepared, chosen, print_look)
                outputs.note(picture)

        def tell() -> None:
            from glowtrace.cli.plan_words import tell_plan

            tell_plan(planned, found, goal, is_full=full)
            if "saved_as" in done:
                typer.echo(f"saved as: {done['saved_as']}")

        present(
            outputs,
            "plan",
            lambda: about(found) | planned.as_dict() | done,
            tell,
            as_json=as_json,
        )
    if planned.refusal is not None:
        raise typer.Exit(REFUSED)


def make_plan(
    bench: Bench,
    name: str,
    targets: GoalTargets,
    fixed: dict[str, Any],
    model: Model = "bench",
    answers: int = 3,
) -> tuple[PreparedBench, Planned]:
    """Prepare the bench and find settings for the goal that was named."""
    goal = choose_goal(name, targets, bench)
    with getting_ready(bench) as (prepared, show):
        from glowtrace.plan import Binding, Planned, Refusal, plan_goal

        if isinstance(goal, str):
            return prepared, Planned((), Refusal(Binding(goal), None, None, None, ()))
        show(None, "looking for settings")
        return prepared, plan_goal(
            prepared, goal, model=model, fixed=fixed, answers=answers, progress=show
        )


def require_free_name(name: str | None, overwrite: bool) -> None:
    """Refuse a name for settings that is taken, before anything is computed for it."""
    from glowtrace.store.naming import clean_name

    if name is None or overwrite:
        return
    name = clean_name(name)
    if any(one.name == name for one in saved_settings()):
        wanted = "this name is taken: choose another one, or --overwrite (the earlier is kept)"
        raise BenchError("saved settings", [Problem("--save", f'"{name}"', wanted)])


def take_answer(planned: Planned, number: int) -> Plan:
    """Give an answer by its number from 1.

    Raises
    ------
    GlowtraceError
        There are not so many.
    """
    if number > len(planned.answers):
        allowed = f"there are {len(planned.answers)} answers: choose one of them"
        raise GlowtraceError(Problem("--take", str(number), allowed))
    return planned.answers[number - 1]


def read_fixed(fix: list[str] | tuple[()]) -> dict[str, Any]:
    """Give the settings that are not to be changed, by name, from texts like "name=value".

    Raises
    ------
    BenchError
        A text has another form, or a setting does not exist or stand the value.
    """
    from glowtrace.bench.checking import check
    from glowtrace.bench.settings import Settings

    told: dict[str, Any] = {}
    for text in fix:
        name, sign, value = text.partition("=")
        if not sign:
            wanted = 'give SETTING=VALUE, for example "accelerating=3 kV"'
            raise BenchError("fixed settings", [Problem("--fix", f'"{text}"', wanted)])
        value = value.strip()
        told[setting_named(name)] = {"true": True, "false": False}.get(value, value)
    sound = check(Settings, {"accelerating_voltage": "1 V", **told}, "fixed settings",
                  is_written=True)  # fmt: skip
    return {name: getattr(sound, name) for name in told}


def _save(prepared: PreparedBench, plan: Plan, name: str, overwrite: bool) -> str:
    from glowtrace.store import open_store

    with open_store() as store:
        return store.settings.save(name, plan.settings, prepared.bench, overwrite=overwrite).name


def _draw(path: Path, prepared: PreparedBench, plan: Plan, print_look: bool) -> None:
    from glowtrace.demos.textbook import textbook_trace
    from glowtrace.report.figure import save_picture
    from glowtrace.report.look import DARK, PRINT

    made = prepared.picture(plan.settings, electrons=_ELECTRONS, model=plan.model)
    textbook = textbook_trace(prepared.bench, plan.settings)
    save_picture(path, made, prepared.bench, textbook, look=PRINT if print_look else DARK)
