"""Receives visitors of every page: builds the one that their address tells, with its sheets."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final, Protocol

from nicegui import app, background_tasks, context, ui
from starlette.datastructures import QueryParams
from starlette.requests import Request

from glowtrace.web.frame import Frame, receive_frame
from glowtrace.web.rack import Rack
from glowtrace.web.steps import STEPS

_STATIC: Final = Path(__file__).parent / "static"
_FONT: Final = """<link rel="preload" href="/glowtrace/fonts/barlow-500.woff2"
  as="font" type="font/woff2" crossorigin>"""
_EVERYWHERE: Final = ("tokens", "pieces", "frame")


class Page(Protocol):
    """A page in its frame; `run` fills it."""

    async def run(self) -> None:
        """Compute and show what the page is for."""


class Reception:
    """Registers pages, and builds them as their addresses tell.

    Parameters
    ----------
    rack
        The benches.
    first
        Place of the bench that is taken where an address tells none.
    """

    def __init__(self, rack: Rack, first: str) -> None:
        self.rack, self.first = rack, first
        app.add_static_files("/glowtrace", _STATIC)

    def register(
        self, path: str, build: Callable[[Frame, QueryParams], Page], *sheets: str
    ) -> None:
        """Register a page.

        Parameters
        ----------
        path
            Of the page, as in `STEPS`.
        build
            Puts the page into a frame, as the query of the address tells.
        sheets
            Names of its style sheets besides those that every page has.
        """
        links = (
            f'<link rel="stylesheet" href="/glowtrace/{name}.css">'
            for name in (*_EVERYWHERE, *sheets)
        )
        head = "\n".join([_FONT, *links])

        def receive(request: Request) -> None:
            ui.add_head_html(head)
            page = build(receive_frame(self.rack, self.first, path, request), request.query_params)
            task = background_tasks.create(page.run(), name=path)
            context.client.on_delete(task.cancel)

        ui.page(path, title=f"{STEPS[path]} – Glowtrace")(receive)
