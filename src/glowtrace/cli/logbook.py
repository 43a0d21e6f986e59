"""Commands about the logbook: list, show, withdraw, export, import."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from glowtrace.cli.frame import present
from glowtrace.cli.loading import group
from glowtrace.cli.options import AsJson, Overwrite
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_json, print_paragraph, print_table

if TYPE_CHECKING:
    from glowtrace.store import Entry

logbook_commands = group("The logbook: readings, photographs and results, by time.")

Kind = Literal[
    "rehearsal", "plan", "readings", "photograph", "result", "calibration", "lesson", "note"
]
EntryName = Annotated[
    str,
    typer.Argument(
        metavar="ENTRY", show_default=False, help="The name of the entry, or its beginning."
    ),
]


@logbook_commands.command("list", epilog='Example: glowtrace logbook list --text "null"')
def list_entries(
    kind: Annotated[Kind | None, typer.Option(help="Entries of this kind only.")] = None,
    bench: Annotated[
        str | None, typer.Option(metavar="NAME", help="Made with a bench of this name.")
    ] = None,
    text: Annotated[
        str | None, typer.Option(metavar="WORDS", help="All of these words stand in the entry.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the entries, the last one first."""
    from glowtrace.store import open_store

    with open_store() as store:
        entries = store.logbook.list(kind=kind, bench=bench, text=text)
    if as_json:
        print_json("logbook-list", {"entries": [_record(entry) for entry in entries]})
    elif entries:
        print_table(("entry", "created", "kind", "title"), map(_row, entries))
    else:
        typer.echo("No such entry. The measure page of `glowtrace page` makes them.")


@logbook_commands.command()
def show(
    entry: EntryName,
    attachments_to: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Write what is attached into this folder."),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Show an entry with its bench, settings and data.

    What is attached to it can be written to a file.
    """
    from glowtrace.report.output import write_output
    from glowtrace.store import open_store

    with open_store() as store:
        found = store.logbook.open(entry)
        attached = [store.logbook.attachment(label.checksum) for label in found.attachments]
    outputs = Outputs(overwrite=overwrite, as_json=as_json)
    if attachments_to is not None:
        named = [(attachments_to / Path(one.name).name, one.data) for one in attached]
        for path, _ in named:
            outputs.require("--attachments-to", path)
        for path, data in named:
            write_output(path, data)
            outputs.note(path)
    present(
        outputs,
        "logbook-entry",
        lambda: _record(found) | {"payload": found.payload},
        lambda: _tell(found),
        as_json=as_json,
    )


def _tell(found: Entry) -> None:
    print_paragraph(f"{found.title} ({found.kind}, {_time(found)})")
    if found.reason:
        print_paragraph(f"{found.action}: {found.reason}")
    for heading, part in (("Bench", found.bench_text), ("Settings", found.settings_text)):
        if part:
            typer.echo(f"\n{heading}\n{part.rstrip()}")
    if found.payload is not None:
        typer.echo(f"\nData\n{json.dumps(found.payload, indent=2, ensure_ascii=False)}")
    for label in found.attachments:
        typer.echo(f"attached: {label.name} ({label.media_type})")


@logbook_commands.command(
    epilog='Example: glowtrace logbook withdraw 0123456789abcdef --reason "wrong range"'
)
def withdraw(
    entry: EntryName,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why; kept with it.")] = "",
) -> None:
    """Mark an entry as withdrawn, for good.

    It stays, but is no longer listed or offered.
    """
    from glowtrace.store import open_store

    with open_store() as store:
        found = store.logbook.withdraw(entry, reason=reason)
    typer.echo(f"withdrawn: {found.id} ({found.title})")


@logbook_commands.command("export", epilog="Example: glowtrace logbook export logbook.zip")
def export_entries(
    file: Annotated[Path, typer.Argument(show_default=False, help="The file to write.")],
    overwrite: Overwrite = False,
) -> None:
    """Write the whole logbook into one file.

    Every version and every photograph goes with it.
    """
    from glowtrace.store import open_store

    with Outputs(overwrite=overwrite) as outputs:
        path = outputs.require("FILE", file)
        with open_store() as store:
            made = store.logbook.export_to(path)
        outputs.note(path)
        with outputs.telling():
            typer.echo(
                f"{made.entries} entries in {made.versions} versions, "
                f"{made.attachments} attachments"
            )


@logbook_commands.command("import", epilog="Example: glowtrace logbook import logbook.zip")
def import_entries(
    file: Annotated[Path, typer.Argument(show_default=False, help="A logbook file.")],
) -> None:
    """Add what a logbook file holds.

    What is here already stays as it is.
    """
    from glowtrace.store import open_store

    with open_store() as store:
        added = store.logbook.import_from(file)
    typer.echo(
        f"added: {added.entries} entries, {added.versions} versions, "
        f"{added.attachments} attachments; {added.skipped} versions were here already"
    )


def _time(entry: Entry) -> str:
    return f"{entry.created.astimezone():%Y-%m-%d %H:%M}"


def _row(entry: Entry) -> tuple[str, str, str, str]:
    return entry.id, _time(entry), entry.kind, entry.title


def _record(entry: Entry) -> dict[str, Any]:
    """Give an entry as plain data, without its payload."""
    return {
        "id": entry.id,
        "kind": entry.kind,
        "title": entry.title,
        "created": entry.created.isoformat(),
        "saved": entry.saved.isoformat(),
        "withdrawn": entry.is_withdrawn,
        "bench": entry.bench_text,
        "settings": entry.settings_text,
        "attachments": [label.model_dump() for label in entry.attachments],
        "made_from": list(entry.made_from),
    }
