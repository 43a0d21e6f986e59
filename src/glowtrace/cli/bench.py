"""Commands about benches: which there are, a new one to change, check one, show one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from glowtrace.cli.asking import ask
from glowtrace.cli.doubts import doubts, learn
from glowtrace.cli.loading import group
from glowtrace.cli.options import AsJson, BenchChoice, Overwrite, find_bench, saved_benches
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_json, print_table
from glowtrace.words.bench import bench_name

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench

bench_commands = group("Benches: what stands on the table, as TOML files.")


@bench_commands.command("list")
def list_benches(as_json: AsJson = False) -> None:
    """List the ready-made benches and your saved ones."""
    from glowtrace.bench.ready_made import ready_made, ready_made_names

    benches = [(name, "ready-made", ready_made(name)) for name in ready_made_names()]
    benches += [(one.name, "saved", one.bench) for one in saved_benches()]
    if as_json:
        listed = [
            {"name": name, "kind": kind, "invented": bench.invented, "notes": bench.notes}
            for name, kind, bench in benches
        ]
        print_json("benches", {"benches": listed})
        return
    print_table(
        ("name", "", "what it shows"),
        [(name, kind, _first_sentence(bench.notes)) for name, kind, bench in benches],
    )


@bench_commands.command(
    epilog='Example: glowtrace bench new my-tube.toml --from "deflection tube"',
)
def new(
    file: Annotated[Path, typer.Argument(show_default=False, help="The bench file to make.")],
    source: Annotated[
        str, typer.Option("--from", metavar="BENCH", help="The bench to begin with.")
    ] = "deflection tube",
    overwrite: Overwrite = False,
) -> None:
    """Make a bench file of your own, to be changed.

    It begins with the numbers of another bench, each with its meaning and how to find it; any
    text editor changes it. The file's name becomes the bench's.
    """
    from glowtrace.bench.beginnings import own_copy
    from glowtrace.bench.files import save_bench

    with Outputs(overwrite=overwrite) as outputs:
        path = outputs.require("FILE", file, (".toml",))
        found = find_bench(source)
        save_bench(own_copy(found, file.stem.replace("-", " ")), path, is_explained=True)
        with outputs.telling():
            typer.echo(
                f"{file}: a copy of {found.name}. Change it, then: glowtrace bench check {file}"
            )


@bench_commands.command(epilog="Example: glowtrace bench check my-tube.toml")
def check(bench: BenchChoice) -> None:
    """Check a bench: every wrong field is told."""
    found = find_bench(bench)
    typer.echo(f"{found.name}: nothing wrong was found.")


@bench_commands.command(epilog='Example: glowtrace bench show "fine-beam bulb"')
def show(
    bench: BenchChoice,
    as_toml: Annotated[
        bool, typer.Option("--toml", help="Print the whole bench file instead.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Show what a bench is for and what limits each knob."""
    from glowtrace.bench.files import bench_to_toml

    found = find_bench(bench)
    if as_json:
        print_json("bench", {"bench": found.model_dump(mode="json")})
    elif as_toml:
        typer.echo(bench_to_toml(found), nl=False)
    else:
        _show_in_words(found)


bench_commands.command(
    epilog='Example: glowtrace bench doubts my-tube.toml --accelerating "3 kV" --plate "1 kV"'
)(doubts)
bench_commands.command(
    epilog='Example: glowtrace bench learn my-tube.toml --accelerating "3 kV" --plate "1 kV" '
    '--point "95 mm, 12.5(5) mm" --keep my-tube.toml --overwrite'
)(learn)
bench_commands.command(epilog="Example: glowtrace bench ask my-tube.toml")(ask)


def _show_in_words(bench: Bench) -> None:
    from glowtrace.bench.ratings import KNOBS, knob_ranges
    from glowtrace.units import exact_text

    typer.echo(bench_name(bench))
    if bench.notes.strip():
        typer.echo(f"\n{bench.notes.strip()}\n")
    rows = []
    for knob, (low, high, why) in knob_ranges(bench).items():
        ends = [exact_text(end, KNOBS[knob]) for end in (low, high)]
        rows.append((knob.replace("_", " "), *ends, why))
    print_table(("knob", "from", "to", "because"), rows)


def _first_sentence(notes: str) -> str:
    sentence, point, _ = " ".join(notes.split()).partition(". ")
    return sentence + point.strip()
