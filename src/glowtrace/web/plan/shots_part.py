"""On film: the shot list of what the sheet shows, with its script to be edited."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from nicegui import background_tasks, ui
from nicegui.events import GenericEventArguments

from glowtrace.bench.prepared import PreparedBench
from glowtrace.report.run_sheets.content import RunSheet
from glowtrace.report.shot_lists.content import Shot, ShotList
from glowtrace.shots.lens import LENSES
from glowtrace.shots.speech import LONGEST_SCRIPT
from glowtrace.web.controls import VALUE, Choice, box, hint, words
from glowtrace.web.frame import Frame
from glowtrace.web.plan.script_window import WINDOW
from glowtrace.web.plan.sheet_files import SHOTS_MARKDOWN, SHOTS_PDF, make_shots
from glowtrace.web.served import SAVE
from glowtrace.words.shots import hold_words, lens_name

NOT_FILMED: Final = {"": "not filmed"}
OPEN: Final = """(event) => window.open(event.currentTarget.dataset.window, "_blank",
  `popup,noopener,width=${screen.availWidth},height=${screen.availHeight}`)"""


class ShotsPart:
    """The part of the page. Building it puts it there; `run` fills it."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._made: tuple[PreparedBench, RunSheet] | None = None
        with box("stack shots-part", "section").props('id="film" aria-label="On film"'):
            words("On film", "h2", "title")
            choice = Choice(
                "Camera", NOT_FILMED | {name: lens_name(name) for name in LENSES}, self._choose
            )
            choice.put(frame.preparation.film)
            with box("row take") as self._take:
                self._pdf = words("Save the shot list", "a", "key is-main")
                self._markdown = words("Save as Markdown", "a", "key")
                self._window = words("Open the script’s window", "button", "key")
                self._window.props('type="button"').on("click", js_handler=OPEN)
            self._shown = box("stack")
        for link in (self._pdf, self._markdown):
            link.props["download"] = True
        self._link()

    async def run(self, prepared: PreparedBench, sheet: RunSheet) -> None:
        """Make the shot list and show it."""
        self._made = prepared, sheet
        await self._refresh()

    async def _refresh(self) -> None:
        frame, preparation = self._frame, self._frame.preparation
        self._shown.clear()
        if self._made is None or not preparation.film:
            return
        prepared, sheet = self._made
        shots = await frame.compute(
            "Making the shot list", lambda: make_shots(prepared, preparation, sheet)
        )
        if shots is None:
            return
        with self._shown:
            self._put(shots)

    def _put(self, shots: ShotList) -> None:
        for line in shots.order:
            words(line, "p")
        with box("fold", "details"):
            words("While it is light", "summary")
            with ui.element("ul"):
                for line in shots.light:
                    words(line, "li")
        with box("counted", "ol"):
            for shot in shots.shots:
                self._put_shot(shot)

    def _put_shot(self, shot: Shot) -> None:
        with ui.element("li"):
            if shot.picture is not None:
                with box("step-picture").props('role="img"') as picture:
                    picture.props["aria-label"] = shot.picture.words
                    ui.html(shot.picture.svg, sanitize=False)
            with box("step-words"):
                words(shot.do, "p", "large")
                for line in (shot.frame, *shot.camera, f"{shot.exposure} {shot.room}"):
                    words(line, "p")
                self._put_script(shot)
                with box("fold", "details"):
                    words("What to mind", "summary")
                    for line in (*shot.dangers, *shot.after):
                        words(line, "p")

    def _put_script(self, shot: Shot) -> None:
        entry = ui.element("textarea").classes("field script")
        entry.props["maxlength"] = LONGEST_SCRIPT
        entry.props["rows"] = 3
        entry.props["aria-label"] = f"What is said in shot {shot.number}"
        entry.props["value"] = shot.script
        held = hint(shot.told_hold)

        def edit(event: GenericEventArguments) -> None:
            said = " ".join(str(event.args).split())[:LONGEST_SCRIPT]
            scripts = {**self._frame.preparation.scripts, shot.place: said}
            if not said:
                del scripts[shot.place]
            self._frame.keep(replace(self._frame.preparation, scripts=scripts))
            self._link()
            held.text = hold_words(said)
            if not said:  # what was proposed stands there again
                background_tasks.create(self._refresh(), name="shots")

        entry.on("change", edit, js_handler=VALUE)

    def _choose(self, film: str) -> None:
        self._frame.keep(replace(self._frame.preparation, film=film))
        self._link()
        background_tasks.create(self._refresh(), name="shots")

    def _link(self) -> None:
        preparation = self._frame.preparation
        self._take.set_visibility(bool(preparation.film))
        for link, path in ((self._pdf, SHOTS_PDF), (self._markdown, SHOTS_MARKDOWN)):
            link.props["href"] = f"{preparation.at(path)}&{SAVE}=1"
        self._window.props["data-window"] = preparation.at(WINDOW)
