"""The command that fits a saved measurement anew, with the program and the numbers of today."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from glowtrace.cli.frame import about
from glowtrace.cli.measure import record, tell
from glowtrace.cli.options import AsJson, Overwrite, read_text
from glowtrace.cli.outputs import require_new, require_place
from glowtrace.cli.printing import print_json, print_paragraph, progress_bar
from glowtrace.errors import GlowtraceError

EXAMPLES = """Examples:

\b
glowtrace redo circles.json
glowtrace redo circles.json --report circles.pdf
"""


def redo(
    file: Annotated[
        Path,
        typer.Argument(
            show_default=False, help="A .json file from `glowtrace measure --out`, or the page."
        ),
    ],
    report: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the printable report to a .pdf file."),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Fit a saved measurement anew.

    Bench, readings, meters and what was known come from the file; nothing else counts.
    """
    from glowtrace.report.output import require_ending

    if report is not None:
        require_ending(report, (".pdf",))
        require_new(report, overwrite)
        require_place(report)
    text = read_text(file)
    with progress_bar() as show:
        show(None, "getting ready")
        from glowtrace.bench.prepared import prepare
        from glowtrace.measure.export import redo_measurement
        from glowtrace.measure.findings import SPECIFIC_CHARGE, find
        from glowtrace.measure.fit_budget import fit_budget
        from glowtrace.measure.result import measured_specific_charge

        setup, fit = redo_measurement(text, preparing=lambda bench: prepare(bench, progress=show))
        wanted = [each.name for each in fit.parameters if each.is_free]
        if not wanted:
            raise GlowtraceError("In this measurement nothing was looked for: all is known.")
        findings = find(setup, fit)
        budgets = [fit_budget(setup, fit, name) for name in wanted]
    if report is not None:
        from glowtrace.report.measurement.report import save_measurement

        save_measurement(report, setup, fit, findings=findings)
    written = [] if report is None else [str(report)]
    if wanted[0] == SPECIFIC_CHARGE:
        result = measured_specific_charge(budgets[0])
        if as_json:
            print_json(
                "measurement",
                record(setup.bench, setup, fit, budgets[0], result, findings)
                | {"written": written},
            )
            return
        tell(setup.bench, setup, fit, budgets[0], result, findings)
    elif as_json:
        constants = [
            {"name": each.name, "value": each.value, "uncertainty": each.uncertainty,
             "unit": each.unit}
            for each in budgets
        ]  # fmt: skip
        print_json("constants", {**about(setup.bench), "model": setup.model,
                    "constants": constants,
                    "written": written})  # fmt: skip
        return
    else:
        from glowtrace.report.measurement.words import measurement_text

        typer.echo(setup.bench.name)
        for each in budgets:
            found = measurement_text(each.value, each.uncertainty, each.unit)
            print_paragraph(f"{each.name} = {found}, with e/m as accepted.")
    for name in written:
        typer.echo(f"written: {name}")
