"""Receives visitors of the page of handouts."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from nicegui import app, background_tasks, context, ui
from starlette.requests import Request

from glowtrace.web.frame import receive_frame
from glowtrace.web.handing.handouts_page import HandoutsPage
from glowtrace.web.handing.made_files import MadeFiles
from glowtrace.web.handing.picture_files import serve_pictures
from glowtrace.web.rack import Rack
from glowtrace.web.steps import STEPS

PATH: Final = "/handouts"
STATIC: Final = Path(__file__).parent / "static"
STYLE: Final = '<link rel="stylesheet" href="/glowtrace-handing/handing.css">'


class HandingReception:
    """Registers the page, and builds it as its address tells.

    Parameters
    ----------
    rack
        The benches.
    first
        Place of the bench that is taken where an address tells none.
    head
        HTML for the head of the page.
    """

    def __init__(self, rack: Rack, first: str, head: str) -> None:
        self._rack, self._first, self._head = rack, first, head + STYLE
        self._files = MadeFiles()
        app.add_static_files("/glowtrace-handing", STATIC)
        ui.page(PATH, title=f"{STEPS[PATH]} – Glowtrace")(self._receive)
        serve_pictures(rack, first)

    def _receive(self, request: Request) -> None:
        ui.add_head_html(self._head)
        frame = receive_frame(self._rack, self._first, PATH, request)
        page = HandoutsPage(frame, self._files, request.query_params)
        task = background_tasks.create(page.run(), name="handouts")
        context.client.on_delete(task.cancel)
