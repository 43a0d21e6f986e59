"""The sheet as files: PDF and Markdown, by an address of their own."""

from __future__ import annotations

from nicegui import app
from starlette.requests import Request
from starlette.responses import Response

from glowtrace.bench.prepared import PreparedBench
from glowtrace.report.run_sheets.markdown import markdown
from glowtrace.report.run_sheets.run_sheet import RunSheet, build_run_sheet, print_run_sheet
from glowtrace.web.plan.plan_cache import PlanCache
from glowtrace.web.preparation import Preparation, read_preparation
from glowtrace.web.rack import Rack
from glowtrace.web.served import file_name, served, telling

PDF, MARKDOWN = "/glowtrace-sheet.pdf", "/glowtrace-sheet.md"


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

    @telling
    async def serve(request: Request) -> Response:
        preparation, bench = read_preparation(request.query_params, first, rack.bench)
        prepared = await rack.build(bench).task
        sheet = await rack.compute(lambda: make_sheet(prepared, preparation, plans))
        name, is_pdf = file_name(sheet.title, sheet.bench), request.url.path == PDF
        if not is_pdf:
            return served(request, f"{name}.md", await rack.compute(lambda: markdown(sheet)))
        printed = await rack.compute(lambda: print_run_sheet(sheet, preparation.paper))
        return served(request, f"{name}.pdf", printed)

    app.add_route(PDF, serve)
    app.add_route(MARKDOWN, serve)
