"""The sheet and its shot list as files: PDF and Markdown, by an address of their own."""

from __future__ import annotations

from pathlib import Path

from nicegui import app
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from glowtrace.bench.prepared import PreparedBench
from glowtrace.report.run_sheets.markdown import markdown
from glowtrace.report.run_sheets.run_sheet import RunSheet, build_run_sheet, print_run_sheet
from glowtrace.report.shot_lists.shot_list import ShotList, build_shot_list, print_shot_list
from glowtrace.report.shot_lists.shot_list import markdown as shots_markdown
from glowtrace.shots.lens import LENSES
from glowtrace.web.plan.plan_cache import PlanCache
from glowtrace.web.plan.script_window import SCRIPT, script_of
from glowtrace.web.preparation import Preparation, read_preparation
from glowtrace.web.rack import Rack
from glowtrace.web.served import file_name, served, telling

PDF, MARKDOWN = "/glowtrace-sheet.pdf", "/glowtrace-sheet.md"
SHOTS_PDF, SHOTS_MARKDOWN = "/glowtrace-shots.pdf", "/glowtrace-shots.md"


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


def make_shots(prepared: PreparedBench, preparation: Preparation, sheet: RunSheet) -> ShotList:
    """Give the shot list of a preparation that is filmed, of its sheet.

    Raises
    ------
    GlowtraceError
        No shot can be filmed at these settings.
    """
    scripts = {
        place: text
        for place, text in preparation.scripts.items()
        if place <= len(sheet.steps)  # other settings may have more steps
    }
    return build_shot_list(
        prepared,
        sheet,
        LENSES[preparation.film or next(iter(LENSES))],
        scene=preparation.scene,
        scripts=scripts,
        earthed=preparation.earthed,
        run_minutes=preparation.run_minutes,
        room_temperature=preparation.room_temperature,
    )


def serve_sheet_files(rack: Rack, first: str, plans: PlanCache) -> None:
    """Serve the sheet of the preparation that an address tells, as files."""

    @telling
    async def serve(request: Request) -> Response:
        preparation, bench = read_preparation(request.query_params, first, rack.bench)
        prepared = await rack.build(bench).task
        sheet = await rack.compute(lambda: make_sheet(prepared, preparation, plans))
        name, path = file_name(sheet.title, sheet.bench), request.url.path
        if path in (PDF, MARKDOWN):
            content = await rack.compute(
                lambda: (
                    print_run_sheet(sheet, preparation.paper) if path == PDF else markdown(sheet)
                )
            )
            return served(request, name + Path(path).suffix, content)
        shots = await rack.compute(lambda: make_shots(prepared, preparation, sheet))
        if path == SCRIPT:
            return JSONResponse(script_of(shots), headers={"Cache-Control": "no-store"})
        content = await rack.compute(
            lambda: (
                print_shot_list(shots, preparation.paper)
                if path == SHOTS_PDF
                else shots_markdown(shots)
            )
        )
        return served(request, f"{name}-film{Path(path).suffix}", content)

    for path in (PDF, MARKDOWN, SHOTS_PDF, SHOTS_MARKDOWN, SCRIPT):
        app.add_route(path, serve)
