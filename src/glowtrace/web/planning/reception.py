"""Receives visitors of the planning pages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, Protocol

from nicegui import background_tasks, context, ui
from starlette.requests import Request

from glowtrace.web.frame import Frame, receive_frame
from glowtrace.web.planning.outcomes_page import OutcomesPage
from glowtrace.web.planning.plan_cache import PlanCache
from glowtrace.web.planning.plan_page import PlanPage
from glowtrace.web.planning.safety_page import SafetyPage
from glowtrace.web.planning.sheet_files import serve_sheet_files
from glowtrace.web.planning.sheet_page import SheetPage
from glowtrace.web.planning.wiring_page import WiringPage
from glowtrace.web.rack import Rack
from glowtrace.web.steps import STEPS


class Page(Protocol):
    """One planning page; `run` fills it."""

    async def run(self) -> None:
        """Compute and show what the page is for."""


class PlanningReception:
    """Registers the planning pages, and builds them as their addresses tell.

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
        self._rack, self._first, self._head = rack, first, head
        plans = PlanCache()
        pages: Final[dict[str, Callable[[Frame], Page]]] = {
            "/plan": lambda frame: PlanPage(frame, plans),
            "/outcomes": OutcomesPage,
            "/wiring": WiringPage,
            "/safety": SafetyPage,
            "/sheet": lambda frame: SheetPage(frame, plans),
        }
        for path, build in pages.items():
            self._register(path, build)
        serve_sheet_files(rack, first, plans)

    def _register(self, path: str, build: Callable[[Frame], Page]) -> None:
        def receive(request: Request) -> None:
            ui.add_head_html(self._head)
            frame = receive_frame(self._rack, self._first, path, request)
            page = build(frame)
            task = background_tasks.create(page.run(), name=path)
            context.client.on_delete(task.cancel)

        ui.page(path, title=f"{STEPS[path]} – Glowtrace")(receive)
