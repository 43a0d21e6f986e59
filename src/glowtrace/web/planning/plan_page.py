"""Plan: settings for a goal, ranked, or why there are none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from nicegui import background_tasks

from glowtrace.bench.prepared import PreparedBench
from glowtrace.demos.goals import Goal
from glowtrace.plan import Planned
from glowtrace.web.controls import box, words
from glowtrace.web.frame import Frame
from glowtrace.web.planning.answer_view import put_answer, put_criterion
from glowtrace.web.planning.goal_form import GoalForm
from glowtrace.web.planning.plan_cache import PlanCache
from glowtrace.web.planning.refusal_view import put_refusal
from glowtrace.web.planning.small_picture import small_picture

SHOW_FOUND = """
const found = document.querySelector(".found");
if (found.getBoundingClientRect().top > 0.8 * innerHeight) found.scrollIntoView();
"""
"""Where the form fills the window, as on a phone, answers would come unseen below it."""


class PlanPage:
    """The page: the form on one side, what was found on the other."""

    def __init__(self, frame: Frame, plans: PlanCache) -> None:
        self._frame, self._plans = frame, plans
        self._asked = 0
        preparation = frame.preparation
        frame.body.classes("planner")
        with frame.body:
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
                words("Choose what to show; what it needs is found with the real fields "
                      "of this bench.", "p", "hint")  # fmt: skip

    async def run(self) -> None:
        """Find what the address asks for."""
        goal = self._frame.preparation.goal
        if goal is not None:
            await self._answer(goal, self._frame.preparation.held)

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
        frame.keep(replace(frame.preparation, goal=goal, held=held))
        prepared = await frame.prepared()
        if prepared is None:
            return

        def work() -> tuple[Planned, list[str]]:
            planned = self._plans.plan(prepared, goal, held)
            return planned, _pictures(prepared, planned)

        found = await frame.compute("Trying settings in the real fields", work)
        if found is not None and asked == self._asked:
            self._show(*found)

    def _show(self, planned: Planned, pictures: list[str]) -> None:
        frame = self._frame
        self._found.clear()
        with self._found:
            if planned.refusal is not None:
                picture = pictures[0] if pictures else ""
                put_refusal(frame.rack, planned.refusal, picture, frame.preparation)
                return
            count = len(planned.answers)
            for rank, (plan, picture) in enumerate(
                zip(planned.answers, pictures, strict=True), start=1
            ):
                on = frame.preparation.with_settings(plan.settings)
                put_answer(frame.bench, plan, rank, count, picture, on)
            if count > 1:
                put_criterion()


def _pictures(prepared: PreparedBench, planned: Planned) -> list[str]:
    """Draw every answer, or the nearest thing that works."""
    settings = [plan.settings for plan in planned.answers]
    if planned.refusal is not None and planned.refusal.nearest_settings is not None:
        settings = [planned.refusal.nearest_settings]
    return [small_picture(prepared, each, "The predicted picture") for each in settings]
