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
    to it. `glowtrace restore` reads it, on this computer or another one. Lessons are not in it:
    `glowtrace lesson export` writes them.
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
                f"{made.attachments} attachments"
            )


def restore(
    file: Annotated[Path, typer.Argument(show_default=False, help="A backup or a logbook file.")],
) -> None:
    """Add what a backup holds to what is here.

    What is here already stays as it is; a name that is taken by something else gets a number.
    """
    from glowtrace.store import open_store

    with open_store() as store:
        added = store.restore_from(file)
    typer.echo(
        f"added: {added.entries} entries, {added.versions} versions, "
        f"{added.attachments} attachments; {added.skipped} versions were here already"
    )
