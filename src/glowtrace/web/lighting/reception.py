"""Receives visitors of the page on light."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from nicegui import app, background_tasks, context, ui
from starlette.requests import Request

from glowtrace.web.frame import receive_frame
from glowtrace.web.lighting.light_page import LightPage
from glowtrace.web.rack import Rack
from glowtrace.web.steps import STEPS

PATH: Final = "/light"
STATIC: Final = Path(__file__).parent / "static"
STYLE: Final = '<link rel="stylesheet" href="/glowtrace-lighting/lighting.css">'


class LightingReception:
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
        app.add_static_files("/glowtrace-lighting", STATIC)
        ui.page(PATH, title=f"{STEPS[PATH]} – Glowtrace")(self._receive)

    def _receive(self, request: Request) -> None:
        ui.add_head_html(self._head)
        frame = receive_frame(self._rack, self._first, PATH, request)
        page = LightPage(frame, request.query_params.get("seen", ""))
        task = background_tasks.create(page.run(), name=PATH)
        context.client.on_delete(task.cancel)
