"""The sheet as files: PDF and Markdown, by an address of their own."""

from __future__ import annotations

import re

from nicegui import app
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError
from glowtrace.report.run_sheet import Paper, RunSheet, build_run_sheet, print_run_sheet
from glowtrace.report.run_sheet_markdown import markdown
from glowtrace.web.planning.plan_cache import PlanCache
from glowtrace.web.preparation import Preparation, read_preparation
from glowtrace.web.rack import Rack

PDF, MARKDOWN = "/glowtrace-sheet.pdf", "/glowtrace-sheet.md"
INLINE = "inline"


def make_sheet(prepared: PreparedBench, preparation: Preparation, plans: PlanCache) -> RunSheet:
    """Give the sheet of a preparation, with the plan's windows while its settings are unchanged.

    Raises
    ------
    GlowtraceError
        No sheet can be made, such as with the heater off.
    """
    settings, goal = preparation.settings, preparation.goal
    plan = plans.answer(prepared, goal, preparation.held, settings)
    return build_run_sheet(
        prepared,
        settings,
        plan=plan,
        goal=goal if plan is None else None,
        run_minutes=preparation.run_minutes,
        room_temperature=preparation.room_temperature,
        earthed=preparation.earthed,
    )


def serve_sheet_files(rack: Rack, first: str, plans: PlanCache) -> None:
    """Serve the sheet of the preparation that an address tells, as files."""

    async def sheet_and_paper(request: Request) -> tuple[RunSheet, Paper]:
        preparation, bench = read_preparation(request.query_params, first, rack.bench)
        prepared = await rack.build(bench).task
        sheet = await rack.compute(lambda: make_sheet(prepared, preparation, plans))
        return sheet, preparation.paper

    async def serve_pdf(request: Request) -> Response:
        try:
            sheet, paper = await sheet_and_paper(request)
            content = await rack.compute(lambda: print_run_sheet(sheet, paper))
        except GlowtraceError as error:
            return PlainTextResponse(str(error), 400)
        return Response(
            content, media_type="application/pdf", headers=_named(sheet, "pdf", request)
        )

    async def serve_markdown(request: Request) -> Response:
        try:
            sheet, _ = await sheet_and_paper(request)
            content = await rack.compute(lambda: markdown(sheet))
        except GlowtraceError as error:
            return PlainTextResponse(str(error), 400)
        headers = _named(sheet, "md", request)
        return Response(content, media_type="text/markdown; charset=utf-8", headers=headers)

    app.add_route(PDF, serve_pdf)
    app.add_route(MARKDOWN, serve_markdown)


def _named(sheet: RunSheet, ending: str, request: Request) -> dict[str, str]:
    """Give the header with a name that tells the file; INLINE in the query shows, not saves it."""
    name = re.sub(r"[^A-Za-z0-9]+", "-", f"{sheet.title} {sheet.bench}").strip("-").lower()
    how = "inline" if INLINE in request.query_params else "attachment"
    return {"Content-Disposition": f'{how}; filename="{name[:80]}.{ending}"'}
