"""Commands about lessons: open, list, export, delete."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from glowtrace.cli.loading import group
from glowtrace.cli.options import AsJson, BenchChoice, Overwrite, find_bench
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_json, print_table
from glowtrace.errors import GlowtraceError

if TYPE_CHECKING:
    from glowtrace.store import KeptLesson, Lessons

lesson_commands = group("Lessons: what learners predicted and read, and opening one.")

LessonName = Annotated[
    str,
    typer.Argument(
        metavar="LESSON", show_default=False, help="The name of the lesson, or its beginning."
    ),
]


@lesson_commands.command(
    "open", epilog='Example: glowtrace lesson open "deflection tube" --title "Monday"'
)
def open_lesson(
    bench: BenchChoice,
    title: Annotated[str, typer.Option(metavar="TEXT", help="What it is called.")] = "Lesson",
    nicknames: Annotated[
        bool, typer.Option("--nicknames", help="Let learners give a nickname.")
    ] = False,
) -> None:
    """Open a lesson, to be held on the page Lesson of `glowtrace page`.

    Nobody but this computer can join until it is opened to the room there. A page that runs
    already takes it up when it is started again.
    """
    from glowtrace.bench.files import bench_to_toml
    from glowtrace.lesson.code import new_code
    from glowtrace.lesson.live import LASTS
    from glowtrace.store import open_store

    text = bench_to_toml(find_bench(bench))
    with open_store() as store:
        now = datetime.now(UTC)
        if held := [one for one in store.lessons.list() if one.is_open(now)]:
            raise GlowtraceError(
                f'The lesson "{held[0].title}" ({held[0].id}) is open already; end it on the page '
                "Lesson first."
            )
        kept = store.lessons.add(title, new_code(), text, lasts=LASTS, takes_nicknames=nicknames)
    typer.echo(f"open: {kept.id} ({kept.title}), code {kept.code[:3]} {kept.code[3:]}")
    typer.echo("Hold it on the page Lesson: glowtrace page")


@lesson_commands.command("list", epilog="Example: glowtrace lesson list")
def list_lessons(as_json: AsJson = False) -> None:
    """List the lessons that are kept, the last one first."""
    from glowtrace.store import open_store

    with open_store() as store:
        told = [_record(store.lessons, one) for one in store.lessons.list()]
    if as_json:
        print_json("lesson-list", {"lessons": told})
    elif told:
        heads = ("lesson", "opened", "state", "questions", "learners", "answers", "title")
        print_table(heads, ([str(each[head]) for head in heads] for each in told))
    else:
        typer.echo("No lesson yet. The page Lesson of `glowtrace page` opens one.")


@lesson_commands.command("export", epilog="Example: glowtrace lesson export 0123 lesson.json")
def export_lesson(
    lesson: LessonName,
    file: Annotated[
        Path,
        typer.Argument(
            show_default=False, help="The .json file (everything) or .csv file (answers) to write."
        ),
    ],
    overwrite: Overwrite = False,
) -> None:
    """Write everything of a lesson into one file."""
    from glowtrace.lesson.export import lesson_data, lesson_table
    from glowtrace.report.output import write_output
    from glowtrace.store import open_store

    with Outputs(overwrite=overwrite) as outputs:
        path = outputs.require("FILE", file, (".json", ".csv"))
        with open_store() as store:
            kept = store.lessons.open(lesson)
            if path.suffix.lower() == ".csv":
                text = lesson_table(store.lessons, kept)
            else:
                data = lesson_data(store.lessons, kept)
                text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
        write_output(path, text.encode("utf-8"))
        outputs.note(path)


@lesson_commands.command("delete", epilog="Example: glowtrace lesson delete 0123")
def delete_lesson(lesson: LessonName) -> None:
    """Delete a lesson with everything that learners sent, for good.

    What was put into the logbook from it stays there.
    """
    from glowtrace.store import open_store

    with open_store() as store:
        kept = store.lessons.open(lesson)
        count = store.lessons.count(kept.id)
        store.lessons.delete(kept.id)
    typer.echo(f"deleted: {kept.id} ({kept.title}) with {count.answers} answers")


def _record(lessons: Lessons, one: KeptLesson) -> dict[str, str | int]:
    count = lessons.count(one.id)
    state = "open" if one.is_open(datetime.now(UTC)) else "closed"
    return {
        "lesson": one.id,
        "title": one.title,
        "opened": f"{one.opened.astimezone():%Y-%m-%d %H:%M}",
        "state": state,
        "questions": count.questions,
        "learners": count.learners,
        "answers": count.answers,
    }
