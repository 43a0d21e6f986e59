"""Receives visitors of the measuring pages."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from nicegui import app, background_tasks, context, ui
from starlette.requests import Request

from glowtrace.measure.methods import COLUMNS, Method
from glowtrace.web.frame import Frame, receive_frame
from glowtrace.web.measuring.logbook_files import serve_logbook_files
from glowtrace.web.measuring.logbook_page import LogbookPage
from glowtrace.web.measuring.measure_page import MeasurePage
from glowtrace.web.measuring.photograph_files import PhotographFiles
from glowtrace.web.measuring.trials import Trials
from glowtrace.web.rack import Rack
from glowtrace.web.steps import STEPS

STATIC: Final = Path(__file__).parent / "static"
STYLE: Final = "".join(
    f'<link rel="stylesheet" href="/glowtrace-measuring/{name}.css">'
    for name in ("measuring", "result", "photograph", "logbook")
)


class MeasuringReception:
    """Registers the measuring pages, and builds them as their addresses tell.

    Parameters
    ----------
    rack
        The benches.
    first
        Place of the bench that is taken where an address tells none.
    head
        HTML for the head of each page.

    Attributes
    ----------
    files
        Where photographs arrive, for any page.
    """

    def __init__(self, rack: Rack, first: str, head: str) -> None:
        self._rack, self._first, self._head = rack, first, head + STYLE
        self.files = PhotographFiles()
        self._trials = Trials()
        app.add_static_files("/glowtrace-measuring", STATIC)
        ui.page("/measure", title=f"{STEPS['/measure']} – Glowtrace")(self._measure)

        ui.page("/logbook", title=f"{STEPS['/logbook']} – Glowtrace")(self._logbook)
        serve_logbook_files(rack.store)

    def _logbook(self, request: Request) -> None:
        frame = self._frame("/logbook", request)
        page = LogbookPage(frame, request.query_params.get("entry", ""))
        background_tasks.create(page.run(), name="logbook")

    def _measure(self, request: Request) -> None:
        frame = self._frame("/measure", request)
        told = request.query_params.get("method")
        method: Method | None = next((each for each in COLUMNS if each == told), None)
        entry = request.query_params.get("entry", "")
        page = MeasurePage(frame, self.files, self._trials, method, entry)
        task = background_tasks.create(page.run(), name="measure")
        context.client.on_delete(task.cancel)

    def _frame(self, path: str, request: Request) -> Frame:
        ui.add_head_html(self._head)
        return receive_frame(self._rack, self._first, path, request)
