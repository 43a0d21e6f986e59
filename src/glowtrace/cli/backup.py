"""Commands that put everything that is kept into one file, and take it from there again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from glowtrace.cli.options import Overwrite
from glowtrace.cli.outputs import Outputs

EXAMPLES = "Example: glowtrace backup glowtrace-backup.zip"


def backup(
    file: Annotated[Path, typer.Argument(show_default=False, help="The .zip file to write.")],
    overwrite: Overwrite = False,
) -> None:
    """Write everything that is kept into one file.

    Saved benches and settings with all their versions, and the whole logbook with what is attached
    to it, and lessons with what learners sent. `glowtrace restore` reads it, on this computer or
    another one.
    """
    from glowtrace.store import open_store

    with Outputs(overwrite=overwrite) as outputs:
        path = outputs.require("FILE", file, (".zip",))
        with open_store() as store:
            made = store.backup_to(path)
        outputs.note(path)
        with outputs.telling():
            typer.echo(
                f"{made.entries} entries in {made.versions} versions, "
                f"{made.attachments} attachments, {made.lessons} lessons"
            )


def restore(
    file: Annotated[Path, typer.Argument(show_default=False, help="A backup or a logbook file.")],
) -> None:
    """Add what a backup holds to what is here.

    What is here already stays as it is; a name that is taken by something else gets a number.
    Lessons come back as they were at their end: nobody can join them any more.
    """
    from glowtrace.store import open_store

    with open_store() as store:
        added = store.restore_from(file)
    typer.echo(
        f"added: {added.entries} entries, {added.versions} versions, "
        f"{added.attachments} attachments, {added.lessons} lessons; "
        f"{added.skipped} versions were here already"
    )
