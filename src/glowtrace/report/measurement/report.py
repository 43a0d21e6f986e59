"""Measurement reports: PDF to print, JSON and CSV with all that is needed to redo it."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from glowtrace.measure.experiment import Experiment
from glowtrace.measure.export import export_measurement
from glowtrace.measure.findings import Findings
from glowtrace.measure.fits.fitted import Fit
from glowtrace.photographs.photograph import Photograph
from glowtrace.report.measurement.content import MeasurementReport, build_measurement_report
from glowtrace.report.measurement.table import measurement_csv
from glowtrace.report.output import require_ending, write_output
from glowtrace.report.sheet_photograph import photograph_svg
from glowtrace.report.sheet_print import Paper, print_sheet
from glowtrace.watching import Cancelled, Progress

__all__ = ["MeasurementReport", "build_measurement_report", "measurement_csv", "measurement_json",
           "measurement_report", "save_measurement"]  # fmt: skip

_ENDINGS = (".pdf", ".json", ".csv")
_PHOTOGRAPH = "photograph.svg"


def measurement_report(
    setup: Experiment,
    fit: Fit,
    *,
    paper: Paper = "a4",
    photograph: Photograph | None = None,
    photograph_words: str = "The photograph that was read.",
    findings: Findings | None = None,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> bytes:
    """Give a measurement report as PDF; the same input gives the same bytes.

    Parameters
    ----------
    setup, fit
        The experiment and its fit.
    paper
        "a4" or "us-letter".
    photograph
        What the readings were taken from; None leaves it out.
    photograph_words
        What it shows.
    findings
        What speaks against the fit; looked for where left out.
    progress, cancelled
        Told how far it is, and asked whether to give up.

    Raises
    ------
    GivenUpError
        It was cancelled.
    GlowtraceError
        An unknown paper.
    """
    data: dict[str, Any] = asdict(
        build_measurement_report(
            setup, fit, findings=findings, progress=progress, cancelled=cancelled
        )
    )
    drawings: dict[str, str] = {}
    for number, each in enumerate(data["tables"], start=1):
        name = f"chart-{number}.svg"
        drawings |= {name: each["chart"]} if each["chart"] else {}
        each["chart"] = name if each["chart"] else None
    data |= {"photograph": None, "photograph_words": photograph_words}
    if photograph is not None:
        data["photograph"] = _PHOTOGRAPH
        drawings[_PHOTOGRAPH] = photograph_svg(photograph)
    return print_sheet("measurement_report.typ", data, paper, drawings)


def measurement_json(setup: Experiment, fit: Fit, findings: Findings | None = None) -> str:
    """Give everything needed to redo a measurement as JSON text.

    `glowtrace.measure.export.redo_measurement` reads it.
    """
    return export_measurement(setup, fit, findings)


def save_measurement(
    path: Path,
    setup: Experiment,
    fit: Fit,
    *,
    paper: Paper = "a4",
    findings: Findings | None = None,
) -> None:
    """Write a measurement to a PDF, JSON or CSV file; the name's ending says which.

    Raises
    ------
    GlowtraceError
        The ending is another one, or the file cannot be written; an older file stays then.
    """
    ending = require_ending(path, _ENDINGS)
    if ending == ".pdf":
        content = measurement_report(setup, fit, paper=paper, findings=findings)
    elif ending == ".json":
        content = (measurement_json(setup, fit, findings) + "\n").encode()
    else:
        content = measurement_csv(setup, fit).encode()
    write_output(path, content)
