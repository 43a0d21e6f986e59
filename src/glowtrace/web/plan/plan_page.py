"""Plan: settings for a goal, ranked, or why there are none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final
from urllib.parse import urlencode

from nicegui import background_tasks, ui

from glowtrace.bench.prepared import PreparedBench
from glowtrace.demos.goals import Goal
from glowtrace.errors import GlowtraceError
from glowtrace.plan import Planned, Remedy
from glowtrace.watching import Cancelled, Progress
from glowtrace.web.controls import box, hint, words
from glowtrace.web.frame import Frame
from glowtrace.web.plan.answer_view import put_answer, put_criterion
from glowtrace.web.plan.goal_form import GoalForm
from glowtrace.web.plan.plan_cache import PlanCache
from glowtrace.web.plan.refusal_view import put_refusal
from glowtrace.web.plan.small_picture import small_picture

BEFORE: Final = "before"
"""In the address: place of the bench that was changed to the one here."""
SHOW_FOUND = """
const found = document.querySelector(".found");
if (found.getBoundingClientRect().top > 0.8 * innerHeight) found.scrollIntoView();
"""
"""Where the form fills the window, as on a phone, answers would come unseen below it."""


class PlanPage:
    """The page: the form on one side, what was found on the other.

    Parameters
    ----------
    frame
        The page around it.
    plans
        Plans that were made.
    query
        Of the page's address: which bench was changed to the one here, if any was.
    """

    def __init__(self, frame: Frame, plans: PlanCache, query: Mapping[str, str]) -> None:
        self._frame, self._plans = frame, plans
        self._asked = 0
        self._before = query.get(BEFORE, "")
        preparation = frame.preparation
        frame.body.classes("columns planner")
        with frame.body:
            if self._before:
                self._put_way_back()
            with box("planner-form"):
                GoalForm(
                    frame.bench,
                    preparation.settings,
                    preparation.goal,
                    preparation.held,
                    self._find,
                )
            self._found = box("found").props('aria-live="polite"')
            with self._found:
                hint(
                    "Choose what to show; what it needs is found with the real fields "
                    "of this bench."
                )

    async def run(self) -> None:
        """Find what the address asks for."""
        goal = self._frame.preparation.goal
        if goal is not None:
            await self._answer(goal, self._frame.preparation.held)
            if self._before:
                self._found.client.run_javascript(SHOW_FOUND)

    def _find(self, goal: Goal, held: Mapping[str, float]) -> None:
        self._frame.say("")

        async def answer() -> None:
            await self._answer(goal, held)
            self._found.client.run_javascript(SHOW_FOUND)

        background_tasks.create(answer(), name="plan")

    async def _answer(self, goal: Goal, held: Mapping[str, float]) -> None:
        frame = self._frame
        self._asked += 1
        asked = self._asked
        kept = urlencode({BEFORE: self._before}) if self._before else ""
        frame.keep(replace(frame.preparation, goal=goal, held=held), kept and f"&{kept}")
        prepared = await frame.prepared()
        if prepared is None:
            return

        def work(progress: Progress, cancelled: Cancelled) -> tuple[Planned, list[str]]:
            def is_over() -> bool:
                return cancelled() or asked != self._asked

            planned = self._plans.plan(
                prepared, goal, held, frame.preparation.settings, progress, is_over
            )
            return planned, _pictures(prepared, planned)

        found = await frame.compute_long("Trying settings in the real fields", work)
        if asked != self._asked:
            return
        if found is None:
            self._found.clear()
            with self._found:
                hint("Given up before it was done.")
            return
        self._show(*found)

    def _put_way_back(self) -> None:
        """Say that the bench here is a changed one, and lead back to the one that it was."""
        preparation = self._frame.preparation
        name = self._before.partition("/")[2] or self._before
        with box("changed-bench row spread across"):
            words(
                f"This is “{self._frame.bench.name}”, changed from “{name}” and kept among the "
                "benches. It is computed: measure the real thing once it is there.",
                "p",
            )
            back = replace(preparation, place=self._before)
            words(f"Back to {name}", "a", "key").props["href"] = back.at("/plan")

    def _take(self, remedy: Remedy) -> None:
        """Go on with the bench as a remedy changes it, for the same goal."""
        frame = self._frame
        try:
            place = frame.rack.keep(remedy.changed(frame.bench))
        except GlowtraceError as error:
            frame.say(str(error))
            return
        changed = replace(frame.preparation, place=place)
        before = urlencode({BEFORE: frame.preparation.place})
        ui.navigate.to(f"{changed.at('/plan')}&{before}")

    def _show(self, planned: Planned, pictures: list[str]) -> None:
        frame = self._frame
        self._found.clear()
        with self._found:
            if planned.refusal is not None:
                picture = pictures[0] if pictures else ""
                put_refusal(frame.rack, planned.refusal, picture, frame.preparation, self._take)
                return
            count = len(planned.answers)
            for rank, (plan, picture) in enumerate(
                zip(planned.answers, pictures, strict=True), start=1
            ):
                on = frame.preparation.with_settings(plan.settings)
                put_answer(frame.bench, plan, rank, count, picture, on)
            if count > 1:
                put_criterion(planned.answers[0])


def _pictures(prepared: PreparedBench, planned: Planned) -> list[str]:
    """Draw every answer, or the nearest thing that works."""
    settings = [plan.settings for plan in planned.answers]
    if planned.refusal is not None and planned.refusal.nearest_settings is not None:
        settings = [planned.refusal.nearest_settings]
    return [small_picture(prepared, each, "The predicted picture") for each in settings]
