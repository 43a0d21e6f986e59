"""Sheet: what will be on paper, and the paper itself to take away."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from nicegui import background_tasks, ui

from glowtrace.report.run_sheets.run_sheet import Paper, RunSheet
from glowtrace.report.run_sheets.steps import Step
from glowtrace.web.controls import Choice, box, hint, put_rows, words
from glowtrace.web.frame import Frame
from glowtrace.web.plan.plan_cache import PlanCache
from glowtrace.web.plan.safety_page import put_verdict
from glowtrace.web.plan.sheet_files import MARKDOWN, PDF, make_sheet
from glowtrace.web.plan.shots_part import ShotsPart
from glowtrace.web.served import SAVE

PAPERS: Final = {"a4": "A4", "us-letter": "Letter"}
EMBED: Final = """
const place = document.querySelector(".paper");
if (place && navigator.pdfViewerEnabled && matchMedia("(min-width: 1121px)").matches) {
  const shown = document.createElement("iframe");
  shown.title = "The sheet as it will be printed";
  shown.src = place.dataset.pdf;
  place.replaceChildren(shown);
}
"""
"""Shows the PDF where the browser has a viewer for it; elsewhere the contents stand alone."""


class SheetPage:
    """The page."""

    def __init__(self, frame: Frame, plans: PlanCache) -> None:
        self._frame, self._plans = frame, plans
        with frame.body:
            with box("row take"):
                self._pdf = words("Save the PDF", "a", "key is-main")
                self._markdown = words("Save as Markdown", "a", "key")
                for link in (self._pdf, self._markdown):
                    link.props["download"] = True
                choice = Choice("Paper", PAPERS, self._choose)
                choice.put(frame.preparation.paper)
                words("On film", "a", "plain").props('href="#film"')
            self._shown = box("columns sheet-page")
            self._film = ShotsPart(frame)
        self._link()

    async def run(self) -> None:
        """Make the sheet and show it."""
        frame = self._frame
        prepared = await frame.prepared()
        if prepared is None:
            return
        preparation = frame.preparation
        sheet = await frame.compute(
            "Making the sheet", lambda: make_sheet(prepared, preparation, self._plans)
        )
        self._shown.clear()
        if sheet is None:
            return
        with self._shown:
            _put_contents(sheet)
            paper = box("paper")
            paper.props["data-pdf"] = f"{preparation.at(PDF)}#toolbar=0&navpanes=0&view=FitH"
        self._shown.client.run_javascript(EMBED)
        await self._film.run(prepared, sheet)

    def _choose(self, paper: str) -> None:
        chosen: Paper = "us-letter" if paper == "us-letter" else "a4"
        self._frame.keep(replace(self._frame.preparation, paper=chosen))
        self._link()
        background_tasks.create(self.run(), name="sheet")

    def _link(self) -> None:
        preparation = self._frame.preparation
        for link, path in ((self._pdf, PDF), (self._markdown, MARKDOWN)):
            link.props["href"] = f"{preparation.at(path)}&{SAVE}=1"


def _put_contents(sheet: RunSheet) -> None:
    """Put on the page what stands on the sheet, a stop first."""
    with box("stack contents", "section").props('aria-label="What is on the sheet"'):
        if sheet.stops:
            with box("row overall is-stop").props('role="alert"'):
                put_verdict("stop", "is-large")
                words("Do not switch on. The sheet says so at its top.")
            for line in sheet.stops:
                words(
                    f"{line.topic}: {line.value}, limit {line.limit}. {line.advice}",
                    "p",
                    "large attention",
                )
        words(sheet.title, "h2", "title")
        words(sheet.purpose, "p")
        put_rows(
            (knob.name, f"{knob.value}, works from {knob.window}" if knob.window else knob.value)
            for knob in sheet.knobs
        )
        if sheet.steps:
            words(f"{len(sheet.steps)} steps", "h3")
            with box("counted", "ol"):
                for step in sheet.steps:
                    _put_step(step)
        counts = (
            (len(sheet.leads), "leads, with the diagram"),
            (len(sheet.lines), "safety lines with their sources"),
            (len(sheet.cautions), "cautions"),
            (len(sheet.switch_off), "steps of switching off and discharging"),
        )
        also = ", ".join(f"{count} {what}" for count, what in counts if count)
        words(f"Also on it: {also}.", "p")
        hint(sheet.model)


def _put_step(step: Step) -> None:
    with ui.element("li"):
        if step.picture is not None:
            with box("step-picture").props('role="img"') as picture:
                picture.props["aria-label"] = step.picture.words
                ui.html(step.picture.svg, sanitize=False)
        with box("step-words"):
            words(step.do, "p", "large")
            if step.see:
                words(step.see, "p")
            if step.say:
                hint(step.say)
