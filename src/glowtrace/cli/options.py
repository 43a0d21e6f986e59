"""Parameters that several commands share, and the bench that is meant."""

from __future__ import annotations

from collections.abc import Callable
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, TypeVar

import typer

from glowtrace.cli.completion import bench_names
from glowtrace.cli.outputs import is_there
from glowtrace.disk import read_at_most
from glowtrace.errors import BenchError, GlowtraceError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.settings import Settings
    from glowtrace.store import SavedBench, SavedSettings, Store

S = TypeVar("S")
_LARGEST_TEXT = 50 * 10**6

BenchChoice = Annotated[
    str,
    typer.Argument(
        show_default=False,
        autocompletion=bench_names,
        help="A ready-made or saved bench by its name, or the path of a bench file.",
    ),
]
ModelChoice = Annotated[
    Literal["bench", "ideal"],
    typer.Option(
        "--model", help="bench: the real geometry; ideal: uniform fields with sharp edges."
    ),
]
AsJson = Annotated[
    bool, typer.Option("--json", help="Print one JSON object, and nothing else, to stdout.")
]
PictureFile = Annotated[
    Path | None,
    typer.Option("--picture", metavar="FILE", help="Draw it to a .png, .svg or .pdf file."),
]
PrintLook = Annotated[bool, typer.Option("--print-look", help="Draw it for paper: black on white.")]
EarthChoice = Annotated[
    Literal["anode", "cathode"],
    typer.Option("--earth", help="The point that is joined to the protective earth."),
]
RunTime = Annotated[
    str,
    typer.Option("--run-time", metavar="TIME", help="How long the coils carry their current."),
]
RoomTemperature = Annotated[
    str, typer.Option("--room-temperature", metavar="TEMPERATURE", help="From which they warm.")
]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Replace what has this name.")]
Full = Annotated[bool, typer.Option("--full", help="Tell everything, not only the short form.")]


def find_bench(choice: str) -> Bench:
    """Give the ready-made bench, the bench file or the saved bench that was named.

    Raises
    ------
    BenchError
        There is none of this name, or the file cannot be read.
    """
    from glowtrace.bench.files import load_bench
    from glowtrace.bench.ranges import show
    from glowtrace.bench.ready_made import ready_made, ready_made_names

    if choice in ready_made_names():
        return ready_made(choice)
    if is_path(choice, ".toml"):
        return load_bench(Path(choice))
    saved = {one.name: one for one in saved_benches()}
    if choice in saved:
        return saved[choice].bench
    wanted = f"{_choice(choice, (*ready_made_names(), *saved))}, or give the path of a bench file"
    raise BenchError("benches", [Problem("BENCH", show(" ".join(choice.split())), wanted)])


def find_settings(choice: str) -> Settings:
    """Give the settings of a file, or the saved ones that were named.

    Raises
    ------
    BenchError
        There are none of this name, or the file cannot be read.
    """
    from glowtrace.bench.files import load_settings
    from glowtrace.bench.ranges import show

    if is_path(choice, ".toml"):
        return load_settings(Path(choice))
    saved = {one.name: one for one in saved_settings()}
    if choice in saved:
        return saved[choice].settings
    wanted = f"{_choice(choice, tuple(saved))}, or give the path of a settings file"
    raise BenchError(
        "saved settings", [Problem("--settings", show(" ".join(choice.split())), wanted)]
    )


def is_path(choice: str, ending: str) -> bool:
    """Say whether what was given is the path of a file, and no name."""
    path = Path(choice)
    return path.suffix == ending or path.parent != Path() or is_there(path)


def _choice(given: str, names: tuple[str, ...]) -> str:
    """Say which name may be meant, or which there are."""
    close = get_close_matches(given, names, n=1)
    meant = f'did you mean "{close[0]}"? ' if close else ""
    known = (
        f"choose {', '.join(map(_quoted, names))}" if names else "none is saved: save some first"
    )
    return meant + known


def _quoted(name: str) -> str:
    return f'"{name}"'


def read_text(path: Path) -> str:
    """Give the text of a file, with or without a byte order mark.

    Raises
    ------
    GlowtraceError
        It cannot be read, or is no text.
    """
    try:
        return read_at_most(path, _LARGEST_TEXT).decode("utf-8-sig")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it is no text"
        raise GlowtraceError(f'"{path}" cannot be read: {reason[0].lower()}{reason[1:]}.') from None


def saved_benches() -> tuple[SavedBench, ...]:
    """Give the saved benches; none, and no new database, where nothing was ever saved."""
    return _saved(lambda store: store.benches.list())


def saved_settings() -> tuple[SavedSettings, ...]:
    """Give the saved settings; none, and no new database, where nothing was ever saved."""
    return _saved(lambda store: store.settings.list())


def _saved(read: Callable[[Store], tuple[S, ...]]) -> tuple[S, ...]:
    from glowtrace.store import open_store
    from glowtrace.store.location import database_location

    location = database_location()
    if isinstance(location, Path) and not location.exists():
        return ()
    with open_store(location) as store:
        return read(store)
