"""Commands about saved settings: list, save, open, rename, delete."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.completion import saved_settings_names
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.loading import group
from glowtrace.cli.options import AsJson, BenchChoice, Overwrite, find_bench
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_json, print_table
from glowtrace.errors import BenchError

if TYPE_CHECKING:
    from glowtrace.store import SavedSettings

settings_commands = group("Settings saved by name, with their bench.")

Name = Annotated[str, typer.Argument(show_default=False, help="The name of the settings.")]
SavedName = Annotated[
    str,
    typer.Argument(
        show_default=False,
        autocompletion=saved_settings_names,
        help="The name of saved settings.",
    ),
]


@settings_commands.command("list")
def list_settings(as_json: AsJson = False) -> None:
    """List the saved settings."""
    from glowtrace.store import open_store

    with open_store() as store:
        saved = store.settings.list()
    if as_json:
        print_json("saved-settings", {"settings": [_record(one) for one in saved]})
    elif saved:
        print_table(("name", "changed", "bench", "settings"), map(_row, saved))
    else:
        typer.echo("Nothing is saved yet. See: glowtrace settings save --help")


def _record(saved: SavedSettings) -> dict[str, Any]:
    """Give one line of the list for programs; texts, which every later version can read."""
    return {
        "name": saved.name,
        "created": saved.created.isoformat(),
        "changed": saved.changed.isoformat(),
        "versions": saved.versions,
        "settings": saved.text,
        "bench": saved.bench_text,
    }


def _row(saved: SavedSettings) -> tuple[str, str, str, str]:
    """Give one line of the list; what a newer Glowtrace saved must not hide the rest."""
    from glowtrace.report.caption import settings_words

    changed = f"{saved.changed.astimezone():%Y-%m-%d %H:%M}"
    try:
        words = " · ".join(settings_words(saved.settings, saved.bench))
        return saved.name, changed, saved.bench.name, words
    except BenchError:
        return saved.name, changed, "?", "cannot be read by this version of Glowtrace"


@settings_commands.command(
    epilog='Example: glowtrace settings save "lift by 1 cm" "deflection tube" '
    '--accelerating "3 kV" --plate "1 kV"',
)
@with_groups
def save(
    name: Name,
    bench: BenchChoice,
    options: SettingsOptions,
    overwrite: Overwrite = False,
) -> None:
    """Save settings under a name, with their bench.

    What an overwritten name held is kept as an earlier version.
    """
    from glowtrace.store import open_store

    found = find_bench(bench)
    chosen = options.choose(found)
    with open_store() as store:
        saved = store.settings.save(name, chosen, found, overwrite=overwrite)
        typer.echo(f"{saved.name}: saved in {store.where}")


@settings_commands.command(
    "open",
    epilog='Example: glowtrace settings open "lift by 1 cm" --to lift.toml --bench-to tube.toml',
)
def open_settings(
    name: SavedName,
    to: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the settings to this file.")
    ] = None,
    bench_to: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write their bench to this file.")
    ] = None,
    overwrite: Overwrite = False,
) -> None:
    """Open saved settings: print them, or write files.

    Each was saved with its bench, as it was then, which can be written to a file too.
    """
    from glowtrace.bench.files import save_bench, save_settings
    from glowtrace.store import open_store

    with Outputs(overwrite=overwrite) as outputs:
        to = outputs.want("--to", to, (".toml",))
        bench_to = outputs.want("--bench-to", bench_to, (".toml",))
        with open_store() as store:
            saved = store.settings.open(name)
        if to is not None:
            save_settings(saved.settings, to)
        if bench_to is not None:
            save_bench(saved.bench, bench_to)
        for path in (to, bench_to):
            outputs.note(path)
        with outputs.telling():
            if to is None and bench_to is None:
                typer.echo(saved.text, nl=False)


@settings_commands.command()
def rename(
    name: SavedName,
    new_name: Annotated[str, typer.Argument(show_default=False, help="The name to give.")],
) -> None:
    """Give saved settings another name."""
    from glowtrace.store import open_store

    with open_store() as store:
        store.settings.rename(name, new_name)


@settings_commands.command()
def delete(
    name: SavedName,
    is_sure: Annotated[bool, typer.Option("--yes", help="Delete without asking.")] = False,
) -> None:
    """Delete saved settings with all their versions."""
    from glowtrace.store import open_store

    with open_store() as store:
        versions = store.settings.open(name).versions
        if not is_sure:
            all_of_it = "" if versions == 1 else f" with all its {versions} versions"
            typer.confirm(f'Delete "{name}"{all_of_it}?', abort=True, err=True)
        store.settings.delete(name)
