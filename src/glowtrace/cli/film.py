"""The command that annotates a film: lines, numbers and forces over every frame."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.frame import getting_ready, present
from glowtrace.cli.options import AsJson, Overwrite, find_bench
from glowtrace.cli.outputs import Outputs

if TYPE_CHECKING:
    from glowtrace.report.films.making import AnnotatedFilm

EXAMPLES = """Examples:

\b
glowtrace film lesson.toml --out annotated.mp4 --preview 3
glowtrace film lesson.toml --out annotated.mp4 --table line.csv

lesson.toml tells the film, the bench, the knobs by time and what is laid over; docs/film.md has
all that may stand in it.
"""


def film(
    description: Annotated[
        Path, typer.Argument(show_default=False, help="The description of the film: a .toml file.")
    ],
    out: Annotated[Path, typer.Option(metavar="FILE", help="The film to write: .mp4.")],
    table: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the line over time to a .csv or .parquet file."),
    ] = None,
    preview: Annotated[
        float | None,
        typer.Option(metavar="S", min=0.2, max=60.0, help="Only so many seconds from the start."),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Lay what was read and computed over every frame.

    Ctrl + C stops it; the same command goes on where it was. The film itself is never changed.
    """
    from glowtrace.films.film_file import open_film
    from glowtrace.report.films.description_file import load_description, require_fitting
    from glowtrace.report.films.film_table import ENDINGS, save_film_table
    from glowtrace.report.films.making import (
        LONG_MIN,
        expected_minutes,
        expected_words,
        made_words,
        read_described,
        save_still,
        still_name,
        write_film,
    )

    told = load_description(description)
    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        out = outputs.require("--out", out, (".mp4",))
        table = outputs.want("--table", table, ENDINGS)
        stills = [
            (outputs.require("stills", out.with_name(still_name(out.name, time))), time)
            for time in (() if preview else told.stills)
        ]
        bench = find_bench(told.bench)
        require_fitting(told, bench)
        film = open_film(Path(told.film))
        seconds = preview or (film.seconds if told.end is None else told.end) - told.start
        if expected_minutes(film, seconds) > LONG_MIN:
            typer.echo(expected_words(film, seconds), err=True)
        with getting_ready(bench) as (prepared, show):
            made = read_described(told, prepared, preview=preview, progress=show)
            write_film(out, made, progress=show)
            outputs.note(out)
            for path, time in stills:
                save_still(path, made, time)
                outputs.note(path)
            if table is not None:
                show(None, "writing the table")
                save_film_table(table, made.overlay)
                outputs.note(table)
        present(
            outputs,
            "annotated-film",
            lambda: _record(made),
            lambda: typer.echo("\n".join(made_words(made))),
            as_json=as_json,
            bench=bench,
        )


def _record(made: AnnotatedFilm) -> dict[str, Any]:
    readings = made.readings
    return {
        "frames": len(readings),
        "start_s": float(readings.seconds[0]),
        "end_s": float(readings.seconds[-1]),
        "size": readings.film.size,
        "frames_with_lost_screen": int(readings.is_lost.sum()),
        "frames_with_covered_line": int(readings.is_covered.any(axis=1).sum()),
        "high_range": readings.film.high_range or None,
        "notes": list(readings.notes),
    }
