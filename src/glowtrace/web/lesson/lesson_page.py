"""Lesson: the desk while the lesson is held."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from nicegui import background_tasks

from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.explain.accounts import wrong_accounts
from glowtrace.explain.explanation import explain
from glowtrace.lesson.asking import about_accounts, prediction
from glowtrace.lesson.question import Question
from glowtrace.report.run_sheets.steps import Step
from glowtrace.web.audience.audience import Audience
from glowtrace.web.audience.remote import SideDoors
from glowtrace.web.audience.strip import AudienceStrip
from glowtrace.web.controls import box, words
from glowtrace.web.frame import Frame
from glowtrace.web.glow import glow_message
from glowtrace.web.lesson.class_part import ClassPart
from glowtrace.web.lesson.classroom import Classroom
from glowtrace.web.lesson.kept_part import KeptPart
from glowtrace.web.lesson.predictions import Line, PredictionScreen
from glowtrace.web.lesson.questions_part import QuestionsPart
from glowtrace.web.lesson.readings_part import ReadingsPart
from glowtrace.web.lesson.steps_part import StepsPart
from glowtrace.web.measure.photograph_files import PhotographFiles
from glowtrace.web.plan.plan_cache import PlanCache
from glowtrace.web.plan.sheet_files import make_sheet
from glowtrace.web.showing import RESTING, Setup
from glowtrace.web.surface import screen_box, surface_of

MODEL: Model = "bench"


class LessonPage:
    """The page."""

    def __init__(
        self,
        frame: Frame,
        classroom: Classroom,
        audience: Audience,
        doors: SideDoors,
        plans: PlanCache,
        photographs: PhotographFiles,
    ) -> None:
        self._frame, self._classroom = frame, classroom
        self._audience, self._plans = audience, plans
        self._prepared: PreparedBench | None = None
        self._shown: tuple[Settings | None, bool] = (None, False)
        self._pictures = self._asked = 0
        frame.body.classes("columns lesson")
        with frame.body:
            with box("stack"):
                self._steps = StepsPart(self._come_to, self._show_to_audience)
                self._questions = QuestionsPart(
                    classroom, self._predict, self._ask, self._ask_again, self._let_draw
                )
                self._screen = PredictionScreen(surface_of(frame.bench), self._note_seen)
                self._screen.describe("The screen with the learners’ predictions")
                self._questions.put_answers()
                self._readings = ReadingsPart(frame, classroom, photographs)
            with box("stack", "aside").props('aria-label="Class and audience"'):
                self._class = ClassPart(frame, classroom, doors)
                self._note = words("", "p", "hint")
                AudienceStrip(audience, frame)
                camera = words("A camera on the real tube", "a", "plain").props('target="_blank"')
                camera.props["href"] = frame.preparation.at("/camera")
                self._kept = KeptPart(frame, classroom)
        frame.body.client.on_delete(classroom.listen(self._show))
        frame.body.client.on_delete(doors.remote.listen(self._steps.press))
        self._show()

    async def run(self) -> None:
        """Make the steps of the run sheet, and show the first one."""
        frame = self._frame
        self._prepared = prepared = await frame.prepared()
        if prepared is None:
            return
        preparation = frame.preparation
        sheet = await frame.compute(
            "Making the steps", lambda: make_sheet(prepared, preparation, self._plans)
        )
        if sheet is None:
            return
        if sheet.stops:
            frame.say("The safety check says stop at these settings; see the page Safety.")
        live = self._classroom.live
        self._steps.put(sheet.steps, live.state.step if live is not None else 0)

    # ---- what is shown ---------------------------------------------------------------------------

    def _show(self) -> None:
        """Show how the lesson stands."""
        self._class.show()
        self._questions.show()
        self._readings.show()
        self._kept.show()
        live = self._classroom.live
        is_other = live is not None and self._classroom.bench != self._frame.bench
        self._note.text = (
            f"The open lesson is about the bench {self._classroom.bench.name}." if is_other else ""
        )
        question = live.question if live is not None else None
        if live is None or question is None or question.kind != "predict" or is_other:
            self._screen.put(0, ())
            self._screen.put_seen(())
            self._screen.hide_picture(False)
            return
        given = (each for each in live.answers(live.state.question).values() if each.answer.line)
        self._screen.put(live.state.question, given)
        self._screen.put_seen(live.state.seen)
        self._screen.hide_picture(not live.state.shows_computed)
        if self._asked != live.state.question:
            self._asked = live.state.question
            self._show_picture(question.settings, to_audience=True)

    def _come_to(self, at: int) -> None:
        live = self._classroom.live
        if live is not None:
            live.put(step=at)
        if self._steps.step is not None:
            # What will be seen is no surprise any more once the audience has seen it.
            self._show_picture(self._steps.step.settings, to_audience=False)

    def _show_to_audience(self) -> None:
        if self._steps.step is not None:
            self._show_picture(self._steps.step.settings, to_audience=True)

    def _show_picture(self, settings: Settings | None, *, to_audience: bool) -> None:
        """Compute the picture of some settings for the desk, and for the audience."""
        prepared, wanted = self._prepared, (settings, to_audience)
        if settings is None or prepared is None or wanted == self._shown:
            return
        self._shown = wanted

        async def show() -> None:
            setup = Setup(prepared, settings, MODEL, prepared.plane.x_to)
            showing = await self._frame.rack.picture(setup, RESTING)
            if wanted != self._shown:
                return
            self._pictures += 1
            box_ = screen_box(prepared.bench)
            message = glow_message(showing.picture, showing.textbook, box_, self._pictures)
            self._screen.show(message)
            if to_audience:
                self._audience.show_picture(prepared.bench, settings, message)

        background_tasks.create(show(), name="picture of a step")

    # ---- questions -------------------------------------------------------------------------------

    def _predict(self) -> None:
        step = self._require_step()
        if step is not None and self._prepared is not None:
            self._put(prediction(self._prepared.plane, step.settings, step.do))

    def _ask(self) -> None:
        step, prepared = self._require_step(), self._prepared
        if step is None or prepared is None:
            return

        async def ask() -> None:
            accounts = await self._frame.compute(
                "Looking for accounts",
                lambda: wrong_accounts(prepared, explain(prepared, step.settings)),
            )
            if accounts is not None:
                self._try(partial(about_accounts, accounts, step.settings))

        background_tasks.create(ask(), name="ask")

    def _ask_again(self) -> None:
        live = self._classroom.live
        asked = [n for n, each in live.questions.items() if each.kind == "ask"] if live else []
        if live is not None and asked:
            last = live.questions[asked[-1]]
            first = last.repeats or asked[-1]
            self._put(last.model_copy(update={"repeats": first}))

    def _try(self, make: Callable[[], Question]) -> None:
        try:
            self._put(make())
        except GlowtraceError as error:
            self._frame.say(str(error))

    def _put(self, question: Question) -> None:
        if self._classroom.live is None:
            self._frame.say("Open a lesson first, so that learners can answer.")
            return
        if self._classroom.bench != self._frame.bench:
            self._frame.say(
                f"The open lesson is about the bench {self._classroom.bench.name}; end it first."
            )
            return
        self._frame.say("")
        self._classroom.ask(question)

    def _require_step(self) -> Step | None:
        step = self._steps.step
        if step is None:
            self._frame.say("The steps are not made yet; wait a moment.")
        return step

    def _let_draw(self, is_wanted: bool) -> None:
        self._screen.let_draw(is_wanted)

    def _note_seen(self, line: Line) -> None:
        live = self._classroom.live
        if live is not None and live.question is not None:
            live.put(seen=(*live.state.seen, line), shows_seen=True)
