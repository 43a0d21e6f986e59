"""Parameters that several commands share, and the bench that is meant."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from glowtrace.cli.printing import is_there
from glowtrace.errors import BenchError, GlowtraceError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.store import SavedBench

BenchChoice = Annotated[
    str,
    typer.Argument(
        show_default=False,
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
    path = Path(choice)
    if path.suffix == ".toml" or path.parent != Path() or is_there(path):
        return load_bench(path)
    saved = {one.name: one for one in saved_benches()}
    if choice in saved:
        return saved[choice].bench
    names = ", ".join(f'"{name}"' for name in (*ready_made_names(), *saved))
    wanted = f"choose {names}, or give the path of a bench file"
    raise BenchError("benches", [Problem("BENCH", show(" ".join(choice.split())), wanted)])


def read_text(path: Path) -> str:
    """Give the text of a file, with or without a byte order mark.

    Raises
    ------
    GlowtraceError
        It cannot be read, or is no text.
    """
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it is no text"
        raise GlowtraceError(f'"{path}" cannot be read: {reason.lower()}.') from None


def saved_benches() -> tuple[SavedBench, ...]:
    """Give the saved benches; none, and no new database, where nothing was ever saved."""
    from glowtrace.store import open_store
    from glowtrace.store.location import database_location

    location = database_location()
    if isinstance(location, Path) and not location.exists():
        return ()
    with open_store(location) as store:
        return store.benches.list()
