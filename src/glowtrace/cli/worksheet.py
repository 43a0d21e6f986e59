"""The command that writes worksheets, with an answer key of its own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from glowtrace.cli.frame import getting_ready, present
from glowtrace.cli.options import AsJson, BenchChoice, Overwrite, find_bench
from glowtrace.cli.outputs import Outputs

if TYPE_CHECKING:
    from glowtrace.report.worksheets.print import Part
    from glowtrace.report.worksheets.worksheet import Worksheet

_ENDINGS = (".pdf", ".md")

EXAMPLES = """Examples:

\b
glowtrace worksheet "deflection tube" --out sheet.pdf --answers answers.pdf
glowtrace worksheet "fine-beam bulb" --level proportion --learners 24 --seed 7 --out class.pdf
"""


def worksheet(
    bench: BenchChoice,
    out: Annotated[
        Path, typer.Option(metavar="FILE", help="The sheets: .pdf, or .md for Markdown.")
    ],
    answers: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The worked answers to them: .pdf or .md."),
    ] = None,
    level: Annotated[
        Literal["proportion", "algebra"],
        typer.Option(
            help="The mathematics needed. proportion: with powers of ten, and reading a graph; "
            "algebra: rearranging formulas, square roots, directions of vectors."
        ),
    ] = "algebra",
    seed: Annotated[
        int, typer.Option(metavar="N", help="Other seeds give other numbers, 0 to 999999.")
    ] = 1,
    learners: Annotated[
        int, typer.Option(metavar="N", help="How many, each with numbers of their own, 1 to 60.")
    ] = 1,
    paper: Annotated[Literal["a4", "us-letter"], typer.Option(help="Of the PDF.")] = "a4",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Write worksheets on a bench, with worked answers.

    The numbers are the bench's own. The same bench, level and seed give the same sheets. Each
    sheet has its number in its head; the answers have the same number.
    """
    from glowtrace.report.output import write_output

    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        out = outputs.require("--out", out, _ENDINGS)
        answers = outputs.want("--answers", answers, _ENDINGS)
        found = find_bench(bench)
        with getting_ready(found) as (prepared, show):
            from glowtrace.report.worksheets.worksheet import build_worksheets

            sheets = build_worksheets(prepared, level, seed=seed, learners=learners, progress=show)
            show(None, "printing")
            parts: tuple[tuple[Path | None, Part], ...] = ((out, "sheets"), (answers, "answers"))
            for path, part in parts:
                if path is not None:
                    write_output(path, _content(sheets, path, part, paper))
                    outputs.note(path)
        many = "1 sheet" if len(sheets) == 1 else f"{len(sheets)} sheets"
        present(
            outputs,
            "worksheet",
            lambda: {"level": level, "seed": seed, "sheets": [_record(each) for each in sheets]},
            lambda: typer.echo(f"{many}, {len(sheets[0].questions)} questions, seed {seed}"),
            as_json=as_json,
            bench=found,
        )


def _content(
    sheets: tuple[Worksheet, ...], path: Path, part: Part, paper: Literal["a4", "us-letter"]
) -> bytes:
    if path.suffix.lower() == ".md":
        from glowtrace.report.worksheets.markdown import worksheets_markdown

        return worksheets_markdown(sheets, part).encode()
    from glowtrace.report.worksheets.print import print_worksheets

    return print_worksheets(sheets, paper, part)


def _record(sheet: Worksheet) -> dict[str, object]:
    """Give the results of a sheet as plain data, for programs that mark answers."""
    return {
        "number": sheet.number,
        "learner": sheet.learner,
        "results": [
            {"question": number, "topic": each.topic, "name": one.name, "value": one.value,
             "unit": one.unit, "text": one.text}
            for number, each in enumerate(sheet.questions, start=1)
            for one in each.results
        ],
    }  # fmt: skip
