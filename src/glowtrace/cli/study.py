"""The command that computes many imagined benches and sums up what is seen on them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.frame import heading, present
from glowtrace.cli.options import AsJson, Overwrite, PictureFile, PrintLook
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_paragraph, print_table, progress_bar

if TYPE_CHECKING:
    from glowtrace.studies.summary import Outcome, Summary

_ROWS = 12

EXAMPLES = """Examples:

\b
glowtrace study tolerances.toml --out tolerances --picture tolerances.png
glowtrace study coils.toml --out coils --cluster tcp://127.0.0.1:8786
"""


def study(
    file: Annotated[
        Path, typer.Argument(metavar="file", help="The study: a .toml file, see studies in docs.")
    ],
    out: Annotated[
        Path,
        typer.Option(
            metavar="FOLDER",
            help="Where the rows are written as they come; with rows of this study in it, it goes "
            "on from there.",
        ),
    ],
    workers: Annotated[
        int | None,
        typer.Option(metavar="N", min=1, help="Processes; one for each core when left out."),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help='Let a Dask cluster compute: its scheduler, as in "tcp://127.0.0.1:8786".',
        ),
    ] = None,
    picture: PictureFile = None,
    print_look: PrintLook = False,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Compute many imagined benches, and sum up what is seen on them.

    Tolerances drawn at random, every combination of a list, a plan for each number's share of
    the variance, e/m measured on benches that nobody knows, or faults that are told and found
    again. Stopped, it goes on where it was when it is called again.
    """
    from glowtrace.report.output import PICTURE_ENDINGS
    from glowtrace.studies import load_study, run_study, summarise

    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        picture = outputs.want("--picture", picture, PICTURE_ENDINGS)
        wanted = load_study(file)
        with progress_bar() as show:
            kept = run_study(wanted, out, workers=workers, cluster=cluster, progress=show)
        summary = summarise(wanted, kept)
        if picture is not None:
            from glowtrace.report.look import DARK, PRINT
            from glowtrace.report.study_figure import save_study

            save_study(picture, summary, kept, look=PRINT if print_look else DARK)
            outputs.note(picture)
        present(
            outputs,
            "study",
            lambda: {**summary.record(), "rows_folder": kept.rows_folder},
            lambda: _tell(summary, kept.rows_folder),
            as_json=as_json,
            bench=wanted.bench,
        )


def _tell(summary: Summary, folder: Path) -> None:
    from glowtrace.report.study_figure import design_text, fault_name, knob_text, study_caption
    from glowtrace.units import percent

    for line in study_caption(summary):
        print_paragraph(line)
    typer.echo(f"Rows: {folder}")
    for each in summary.outcomes:
        _tell_outcome(summary, each)
    possible = sum(summary.kinds.values())
    if possible and not summary.found_again:
        measures = summary.coverage is not None
        heading("Intervals" if measures else "What is seen")
        print_table(
            ("what it says" if measures else "kind of picture", "rows", "share"),
            [(name, f"{n}", percent(n / possible)) for name, n in summary.kinds.items()],
            numbers=(1, 2),
        )
    if summary.found_again:
        heading("Found again")
        print_table(
            ("fault", "noticed", "first or second", "first after checks"),
            [
                (fault_name(each), f"{each.noticed} of {each.noticed + each.unnoticed}",
                 f"{each.among_two}", f"{each.first_after_checks}")
                for each in summary.found_again
            ],
            numbers=(1, 2, 3),
        )  # fmt: skip
    if summary.designs:
        shown = [each for each in summary.designs if each.shown]
        heading(f"Designs that show “{summary.study.wanted}”: {len(shown)} of "
                f"{len(summary.designs)}")  # fmt: skip
        knobs = [name for name in summary.study.vary if any(name in d.ends for d in shown)]
        print_table(
            ("design", "settings", *(name.replace("_", " ") for name in knobs)),
            [
                (design_text(summary, each), f"{each.shown} of {each.rows}",
                 *(knob_text(name, each.ends[name]) for name in knobs))
                for each in shown[:_ROWS]
            ],
        )  # fmt: skip


def _tell_outcome(summary: Summary, outcome: Outcome) -> None:
    from glowtrace.report.study_figure import share_text, turned_name
    from glowtrace.report.sweep_figure import column_label, column_text
    from glowtrace.studies.summary import QUANTILES
    from glowtrace.units import percent

    def told(value: float) -> str:
        return column_text(outcome.name, value)

    heading(column_label(outcome.name))
    if not outcome.count:
        typer.echo(f"Nothing to read in any of {outcome.missing} rows.")
        return
    quantiles: list[Any] = [
        (f"{100 * part:g} % below", told(value))
        for part, value in zip(QUANTILES, outcome.quantiles, strict=True)
    ]
    rows = [("mean", told(outcome.mean)), ("standard deviation", told(outcome.deviation))]
    print_table(("of", f"{outcome.count} rows"), [*rows, *quantiles], numbers=(1,))
    if outcome.missing:
        typer.echo(f"{outcome.missing} rows have nothing to read; they are left out.")
    if not outcome.shares:
        return
    has_totals = summary.study.plan == "shares" and not outcome.missing
    typer.echo()
    print_table(
        ("number", "share of the variance", *(("with the others",) if has_totals else ())),
        [
            (turned_name(summary, each.name), share_text(each.alone, each.alone_within),
             *((share_text(each.total, each.total_within),) if has_totals else ()))
            for each in outcome.shares[:_ROWS]
        ],
        numbers=(1, 2),
    )  # fmt: skip
    if has_totals:
        typer.echo("± holds 95 %; four times the rows halve it.")
    else:
        typer.echo(f"Straight lines explain {percent(outcome.explained)} of the variance.")
