"""Readings of groups from the real tube: given out, coming in, pooled, kept."""

from __future__ import annotations

from functools import partial
from typing import Final

from nicegui import background_tasks, ui
from nicegui.events import GenericEventArguments

from glowtrace.bench.settings import Settings
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError
from glowtrace.lesson.answer import with_unit
from glowtrace.lesson.export import class_record
from glowtrace.lesson.live import LiveLesson
from glowtrace.lesson.question import Question
from glowtrace.lesson.reading import ClassResult, class_result, reading, suited_methods
from glowtrace.measure.methods import Method
from glowtrace.measure.suiting import TITLES
from glowtrace.units import fixed, format_measurement, page_text, scientific
from glowtrace.web.controls import VALUE, Picker, box, button, file_button, words
from glowtrace.web.frame import Frame
from glowtrace.web.lesson.class_figure import class_figure
from glowtrace.web.lesson.classroom import Classroom
from glowtrace.web.measure.photograph_desk import PHOTOGRAPHS, SEND
from glowtrace.web.measure.photograph_files import FOR_PHONES, PATH, PhotographFiles, preview_of

GROUPS: Final = 'type="number" min="1" max="30" step="1" inputmode="numeric"'
USUAL_GROUPS: Final = 6
TAKEN_SO: Final = (
    "The groups get the photograph on their phones and read it by its grid. Set the knobs on "
    "Rehearse as they were when it was taken, then give out."
)


class ReadingsPart:
    """The part. Building it puts it on the page."""

    def __init__(self, frame: Frame, classroom: Classroom, files: PhotographFiles) -> None:
        self._frame, self._classroom, self._files = frame, classroom, files
        self._key = files.new_key()
        frame.body.client.on_delete(lambda: files.drop(self._key))
        self._methods = suited_methods(frame.bench)
        self._method: Method | None = self._methods[0] if self._methods else None
        self._groups = USUAL_GROUPS
        self._result: ClassResult | None = None
        self._told: object = None
        with box("stack lesson-readings", "section").props('aria-label="Readings"') as self._part:
            words("Groups read the real tube", "h2")
            with box("row"):
                picker = Picker("Method", self._choose)
                picker.offer({"Methods": {each: TITLES[each] for each in self._methods}}, "")
                with box("asked", "label"):
                    words("Groups")
                    number = ui.element("input").classes("field").props(GROUPS)
                    number.props["^value"] = USUAL_GROUPS
                    number.on("change", self._count, js_handler=VALUE)
                button("Give out", self._give_out, "key is-main")
            with box("row"):
                send = SEND.format(address=f"{PATH}/{self._key}")
                file_button("From a photograph instead", PHOTOGRAPHS, send, self._arrives)
                self._drop = button("The real tube again", self._drop_photograph, "plain")
            self._photograph = words(TAKEN_SO, "p", "hint").props('role="status"')
            self._table = box("lesson-wide")
            self._pool = button("Fit and pool", self._fit)
            self._found = box("lesson-wide")
            self._keep = button("Keep in the logbook", self._keep_result)
        self._keep.set_visibility(False)
        self._show_photograph()

    def show(self) -> None:
        """Show what came in."""
        live = self._classroom.live
        self._part.set_visibility(live is not None and bool(self._methods))
        question = live.question if live is not None else None
        is_reading = question is not None and question.kind == "read"
        for each in (self._table, self._pool, self._found):
            each.set_visibility(is_reading)
        self._keep.set_visibility(is_reading and self._result is not None)
        if live is None or question is None or not is_reading:
            return
        rows = tuple(
            (
                one.answer.group,
                one.nickname,
                *map(with_unit, one.answer.readings, question.fields),
            )
            for one in sorted(
                live.answers(live.state.question).values(), key=lambda one: one.answer.group
            )
        )
        told = (live.state.question, rows)
        if told == self._told:
            return
        self._told = told
        self._table.clear()
        with self._table, box("table", "table"):
            with ui.element("thead"), ui.element("tr"):
                for head in ("group", "gets", *(each.symbol for each in question.fields)):
                    words(head, "th").props('scope="col"')
            with ui.element("tbody"):
                for number, task in enumerate(question.tasks, 1):
                    own = [row for row in rows if row[0] == number] or [(number, "")]
                    for _, _, *typed in own:
                        with ui.element("tr"):
                            words(f"{number}", "td")
                            words(task.told, "td")
                            for text in typed or [""] * len(question.fields):
                                words(str(text), "td")

    # ---- what the teacher does -------------------------------------------------------------------

    def _choose(self, method: str) -> None:
        self._method = next(each for each in self._methods if each == method)

    def _count(self, event: object) -> None:
        text = str(getattr(event, "args", ""))
        self._groups = int(text) if text.isdecimal() and len(text) < 4 else 0

    def _arrives(self, event: GenericEventArguments) -> None:
        state, text = event.args
        self._frame.show_working("Sending the photograph …" if state == "sending" else "")
        self._frame.say(text if state == "failed" else "")
        self._show_photograph()

    def _drop_photograph(self) -> None:
        self._files.put(self._key, None)
        self._show_photograph()

    def _show_photograph(self) -> None:
        has_one = self._files.get(self._key) is not None
        self._photograph.set_visibility(has_one)
        self._drop.set_visibility(has_one)

    def _give_out(self) -> None:
        background_tasks.create(self._ask(), name="give out")

    async def _ask(self) -> None:
        prepared = await self._frame.prepared()
        method, live = self._method, self._classroom.live
        if prepared is None or method is None or live is None:
            return
        settings = self._frame.preparation.settings
        held, groups = self._files.get(self._key), self._groups

        def make() -> Question:
            photograph = b"" if held is None else preview_of(held.photograph, FOR_PHONES, 80)
            return reading(prepared, method, settings, groups, photograph)

        question = await self._frame.compute("Giving out what to read", make)
        if question is not None:
            self._frame.say("")
            self._result = None
            self._found.clear()
            self._classroom.ask(question)

    def _fit(self) -> None:
        background_tasks.create(self._pool_all(), name="fit and pool")

    async def _pool_all(self) -> None:
        live = self._classroom.live
        prepared = await self._frame.prepared()
        if live is None or live.question is None or prepared is None:
            return
        given = tuple(live.answers(live.state.question).values())
        work = partial(class_result, live.question, given, prepared)
        self._result = await self._frame.compute("Fitting each group’s readings", work)
        self._found.clear()
        if self._result is not None:
            with self._found:
                _put_result(self._result)
        self._keep.set_visibility(self._result is not None)

    def _keep_result(self) -> None:
        live, result = self._classroom.live, self._result
        if live is None or result is None:
            return
        try:
            _keep(live, result, self._frame)
        except GlowtraceError as error:
            self._frame.say(str(error))
            return
        ui.notify("It is in the logbook.")


def _keep(live: LiveLesson, result: ClassResult, frame: Frame) -> None:
    settings: Settings | None = live.question.settings if live.question is not None else None
    title = f"{live.kept.title}: e/m of {len(result.measured)} groups"
    data = class_record(live, result)
    frame.rack.kept.logbook.add("lesson", title, bench=frame.bench, settings=settings, payload=data)


def _put_result(result: ClassResult) -> None:
    for group in result.groups:
        if group.trouble:
            words(f"Group {group.group}: {group.trouble}", "p", "hint")
    pooled = result.pooled
    if pooled is None:
        words("Pooling needs the readings of two groups or more.", "p")
        return
    value = format_measurement(pooled.value, result.uncertainty, "C/kg", style="html")
    with box("row is-written large", "p"):
        words("e/m")
        ui.html(f"{value}", sanitize=False).classes("title")
        words(f"from {len(result.measured)} groups")
    accepted = page_text(scientific(SPECIFIC_CHARGE, "C/kg", 6))
    between = page_text(scientific(pooled.between, "C/kg", 2))
    shared = page_text(scientific(result.shared, "C/kg", 2))
    parts = [
        f"Random effects (DerSimonian and Laird 1986): between groups {between} beyond what they "
        f"state. Birge ratio {fixed(pooled.birge_ratio, 1)}. What all groups share (meters, bench) "
        f"adds {shared}. Accepted (CODATA): {accepted}."
    ]
    if result.lying_out:
        names = ", ".join(map(str, result.lying_out))
        parts.append(f"Further out than chance explains: group {names}. Look at it together.")
    for part in parts:
        ui.html(part, sanitize=False).classes("hint")
    ui.html(class_figure(result), sanitize=False).classes("lesson-figure")
