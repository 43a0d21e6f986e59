"""Receives visitors of every step but the first: builds the page that their address tells."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

from nicegui import app, background_tasks, context, ui
from starlette.datastructures import QueryParams
from starlette.requests import Request

from glowtrace.web.frame import Frame, receive_frame
from glowtrace.web.rack import Rack
from glowtrace.web.steps import STEPS


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
    head
        HTML for the head of each page.
    """

    def __init__(self, rack: Rack, first: str, head: str) -> None:
        self.rack, self.first, self._head = rack, first, head

    def register(
        self, path: str, build: Callable[[Frame, QueryParams], Page], styles: str = ""
    ) -> None:
        """Register a step.

        Parameters
        ----------
        path
            Of the page, as in `STEPS`.
        build
            Puts the page into a frame, as the query of the address tells.
        styles
            HTML for the head of this page, from `styles_of`.
        """

        def receive(request: Request) -> None:
            ui.add_head_html(self._head + styles)
            page = build(receive_frame(self.rack, self.first, path, request), request.query_params)
            task = background_tasks.create(page.run(), name=path)
            context.client.on_delete(task.cancel)

        ui.page(path, title=f"{STEPS[path]} – Glowtrace")(receive)


def styles_of(package: Path, names: Sequence[str]) -> str:
    """Serve the `static` folder of a package of pages, and give the HTML for its style sheets."""
    address = f"/glowtrace-{package.name}"
    app.add_static_files(address, package / "static")
    return "\n".join(f'<link rel="stylesheet" href="{address}/{name}.css">' for name in names)
