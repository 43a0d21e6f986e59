"""Receives visitors of the planning pages."""

from __future__ import annotations

from glowtrace.web.plan.outcomes_page import OutcomesPage
from glowtrace.web.plan.plan_cache import PlanCache
from glowtrace.web.plan.plan_page import PlanPage
from glowtrace.web.plan.safety_page import SafetyPage
from glowtrace.web.plan.sheet_files import serve_sheet_files
from glowtrace.web.plan.sheet_page import SheetPage
from glowtrace.web.plan.wiring_page import WiringPage
from glowtrace.web.reception import Reception


def receive_planning(reception: Reception) -> None:
    """Register the pages, and the sheets that they give."""
    plans = PlanCache()
    reception.register("/plan", lambda frame, query: PlanPage(frame, plans, query))
    reception.register("/outcomes", lambda frame, _: OutcomesPage(frame))
    reception.register("/wiring", lambda frame, _: WiringPage(frame))
    reception.register("/safety", lambda frame, _: SafetyPage(frame))
    reception.register("/sheet", lambda frame, _: SheetPage(frame, plans))
    serve_sheet_files(reception.rack, reception.first, plans)
