"""All pages: what stands at each path, its style sheets, and the files that it gives."""

from __future__ import annotations

from nicegui import app
from starlette.datastructures import QueryParams

from glowtrace.measure.methods import COLUMNS
from glowtrace.web.audience.audience import NARROWEST, USUAL_WIDTH, WIDEST, WIDTH, Audience
from glowtrace.web.audience.feed import audience_app
from glowtrace.web.audience.remote import SideDoors
from glowtrace.web.audience.strip import WINDOW
from glowtrace.web.bench.bench_page import BenchPage
from glowtrace.web.camera.camera_page import CameraPage
from glowtrace.web.camera.feed import CameraFeed
from glowtrace.web.camera.hall import hall_route
from glowtrace.web.explain.explain_page import ExplainPage
from glowtrace.web.faults.faults_page import FaultsPage
from glowtrace.web.faults.suspects_job import SuspectsCache
from glowtrace.web.faults.told import read_told
from glowtrace.web.film.film_page import FilmPage
from glowtrace.web.film.film_shelf import FilmShelf
from glowtrace.web.film.open_part import OPENED
from glowtrace.web.frame import Frame
from glowtrace.web.handouts.handouts_page import HandoutsPage
from glowtrace.web.handouts.made_files import MadeFiles
from glowtrace.web.handouts.picture_files import serve_pictures
from glowtrace.web.lesson.lesson_page import LessonPage
from glowtrace.web.lesson.reception import hold_lessons
from glowtrace.web.light.light_page import LightPage
from glowtrace.web.measure.logbook_files import serve_logbook_files
from glowtrace.web.measure.logbook_page import LogbookPage
from glowtrace.web.measure.measure_page import MeasurePage
from glowtrace.web.measure.photograph_files import PhotographFiles
from glowtrace.web.measure.trials import Trials
from glowtrace.web.plan.outcomes_page import OutcomesPage
from glowtrace.web.plan.plan_cache import PlanCache
from glowtrace.web.plan.plan_page import PlanPage
from glowtrace.web.plan.safety_page import SafetyPage
from glowtrace.web.plan.script_window import serve_script_window
from glowtrace.web.plan.sheet_files import serve_sheet_files
from glowtrace.web.plan.sheet_page import SheetPage
from glowtrace.web.plan.wiring_page import WiringPage
from glowtrace.web.rack import Rack
from glowtrace.web.reception import Reception
from glowtrace.web.table import Table


def receive_all(reception: Reception) -> None:
    """Register all pages; each visitor gets one of their own."""
    rack, first, register = reception.rack, reception.first, reception.register
    plans, suspects, trials = PlanCache(), SuspectsCache(), Trials()
    shelf = FilmShelf()
    photographs, made, audience = PhotographFiles(), MadeFiles(), _audience(rack)
    doors = SideDoors(audience)
    classroom = hold_lessons(rack, audience, doors)

    def measure(frame: Frame, query: QueryParams) -> MeasurePage:
        method = next((each for each in COLUMNS if each == query.get("method")), None)
        entry, handed = query.get("entry", ""), query.get("photograph", "")
        return MeasurePage(frame, photographs, trials, method, entry, handed)

    def faults(frame: Frame, query: QueryParams) -> FaultsPage:
        return FaultsPage(frame, photographs, suspects, read_told(query, frame.preparation.place))

    register("/", lambda frame, _: Table(frame, audience, photographs), "rehearse", "photograph")
    register("/bench", lambda frame, _: BenchPage(frame), "bench")
    register("/plan", lambda frame, query: PlanPage(frame, plans, query), "plan")
    register("/outcomes", lambda frame, _: OutcomesPage(frame), "plan")
    register("/wiring", lambda frame, _: WiringPage(frame), "plan")
    register("/safety", lambda frame, _: SafetyPage(frame), "plan")
    register("/sheet", lambda frame, _: SheetPage(frame, plans), "plan")
    register("/light", lambda frame, query: LightPage(frame, query.get("seen", "")), "light")
    register(
        "/lesson",
        lambda frame, _: LessonPage(frame, classroom, audience, doors, plans, photographs),
        "lesson",
    )
    CameraFeed(rack)
    app.router.routes.append(hall_route(audience))
    register(
        "/camera", lambda frame, _: CameraPage(frame, photographs, audience), "rehearse", "camera"
    )
    register("/faults", faults, "faults", "photograph")
    register("/explain", ExplainPage, "explain")
    register("/handouts", lambda frame, query: HandoutsPage(frame, made, query), "handouts")
    register(
        "/film",
        lambda frame, query: FilmPage(frame, shelf, plans, query.get(OPENED, "")),
        *("handouts", "photograph", "film"),
    )
    register("/measure", measure, "measure", "photograph")
    register("/logbook", lambda frame, query: LogbookPage(frame, query.get("entry", "")), "logbook")
    app.mount(WINDOW.rstrip("/"), audience_app(audience, commands=True))
    serve_sheet_files(rack, first, plans)
    serve_script_window()
    serve_pictures(rack, first)
    serve_logbook_files(rack)


def _audience(rack: Rack) -> Audience:
    """Give the audience, whose picture is as wide as the last time."""
    return Audience(rack.remembered(WIDTH, NARROWEST, WIDEST, USUAL_WIDTH))
