"""Receives visitors of the page that finds faults."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from nicegui import app, background_tasks, context, ui
from starlette.requests import Request

from glowtrace.web.faulting.faults_page import FaultsPage
from glowtrace.web.faulting.suspects_job import SuspectsCache
from glowtrace.web.faulting.told import read_told
from glowtrace.web.frame import receive_frame
from glowtrace.web.measuring.photograph_files import PhotographFiles
from glowtrace.web.measuring.reception import STYLE as PHOTOGRAPH_STYLE
from glowtrace.web.rack import Rack
from glowtrace.web.steps import STEPS

PATH: Final = "/faults"
STATIC: Final = Path(__file__).parent / "static"
STYLE: Final = """
<link rel="stylesheet" href="/glowtrace-faulting/faulting.css">
<link rel="stylesheet" href="/glowtrace-faulting/sketch.css">
"""


class FaultingReception:
    """Registers the page, and builds it as its address tells.

    Parameters
    ----------
    rack
        The benches.
    first
        Place of the bench that is taken where an address tells none.
    head
        HTML for the head of the page.
    files
        Where photographs arrive.
    """

    def __init__(self, rack: Rack, first: str, head: str, files: PhotographFiles) -> None:
        self._rack, self._first, self._files = rack, first, files
        self._cache = SuspectsCache()
        self._head = head + PHOTOGRAPH_STYLE + STYLE
        app.add_static_files("/glowtrace-faulting", STATIC)
        ui.page(PATH, title=f"{STEPS[PATH]} – Glowtrace")(self._receive)

    def _receive(self, request: Request) -> None:
        ui.add_head_html(self._head)
        frame = receive_frame(self._rack, self._first, PATH, request)
        page = FaultsPage(frame, self._files, self._cache, read_told(request.query_params))
        task = background_tasks.create(page.run(), name="faults")
        context.client.on_delete(task.cancel)
