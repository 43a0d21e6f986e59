"""Light: can the trace be seen in this room and on camera, why, and what to change."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Final, get_args

from nicegui import background_tasks

from glowtrace.bench.checking import change
from glowtrace.bench.ratings import check_settings
from glowtrace.errors import GlowtraceError
from glowtrace.light.answer import LightAnswer
from glowtrace.light.changes import Change
from glowtrace.light.glow import Glow, make_glow
from glowtrace.light.scene import Scene
from glowtrace.report.light_picture import Seen
from glowtrace.web.controls import box, button, words
from glowtrace.web.frame import Frame
from glowtrace.web.light.changes_view import put_changes, put_doubts, put_practice
from glowtrace.web.light.inputs_view import InputsView
from glowtrace.web.light.scene_form import SceneForm
from glowtrace.web.light.seen_job import answer_and_render
from glowtrace.web.light.seen_picture import SeenPicture
from glowtrace.web.light.verdict_view import put_verdicts
from glowtrace.web.naming import read_field
from glowtrace.web.preparation import Preparation
from glowtrace.web.surface import surface_of
from glowtrace.words.light import scene_words

_USUAL: Final = {"rad": "deg"}
"""Units that a bare number is taken in, where it is not the SI unit."""
SHOWS_FIRST: Final[Seen] = "room"


class LightPage:
    """The page.

    Parameters
    ----------
    frame
        Around it.
    seen
        How the picture is shown first, from the address; as in this room where it tells nothing.
    """

    def __init__(self, frame: Frame, seen: str) -> None:
        self._frame = frame
        self._seen: Seen = _seen(seen)
        self._glow: Glow | None = None
        self._is_busy = self._is_stale = False
        frame.body.classes("columns lighting")
        with frame.body:
            with box("lighting-seen"):
                surface = surface_of(frame.bench)
                self._picture = SeenPicture(surface, self._seen, self._show_as)
                self._verdicts = box("lighting-verdicts")
            with box("lighting-form"):
                with box("ways-on") as self._unusual:
                    self._differs = words("", "p", "hint scene-differs")
                    button("Back to the usual", self._start_anew, "plain")
                self._form = SceneForm(frame.bench, self._scene, self._changed)
            self._changes = box("lighting-changes")
            with box("lighting-more"):
                self._doubts = box("lighting-doubts")
                put_practice()
                with box("fold", "details"):
                    words("Every input, to be changed", "summary")
                    self._inputs = InputsView(frame.bench, self._scene, self._typed)

        self._show_unusual()

    @property
    def _scene(self) -> Scene:
        return self._frame.preparation.scene

    async def run(self) -> None:
        """Fly the beam and show what is seen of it."""
        frame = self._frame
        if self._beyond_ratings():
            frame.say(self._beyond_ratings())
        prepared = await frame.prepared()
        if prepared is None:
            return
        settings = frame.preparation.settings
        glow = await frame.compute("Flying the beam", lambda: make_glow(prepared, settings))
        if glow is not None and settings == frame.preparation.settings:
            self._glow = glow
            await self._refresh()

    def _beyond_ratings(self) -> str:
        """Give in words which ratings the settings pass; empty where none."""
        problems = check_settings(self._frame.bench, self._frame.preparation.settings)
        return "\n".join(str(problem) for problem in problems)

    def _changed(self, values: Mapping[str, object]) -> None:
        """Take in what the visitor changed."""
        frame = self._frame
        try:
            scene = change(self._scene, values, "the light")
        except GlowtraceError as error:
            frame.say(str(error))
            return
        frame.say(self._beyond_ratings())
        self._keep(frame.preparation.with_scene(scene))
        self._show_scene()
        background_tasks.create(self._refresh(), name="light")

    def _start_anew(self) -> None:
        self._keep(self._frame.preparation.with_scene(Scene()))
        self._show_scene()
        background_tasks.create(self._refresh(), name="light")

    def _typed(self, path: str, unit: str, text: str) -> None:
        try:
            value = read_field(text, unit, _USUAL.get(unit, unit))
        except GlowtraceError as error:
            self._frame.say(f"{path}: {error}")
            return
        self._changed({path: value})

    def _show_as(self, seen: str) -> None:
        self._seen = _seen(seen)
        self._keep(self._frame.preparation)
        background_tasks.create(self._refresh(), name="light")

    def _keep(self, preparation: Preparation) -> None:
        more = "" if self._seen == SHOWS_FIRST else f"&seen={self._seen}"
        self._frame.keep(preparation, more)

    def _try_it(self, wanted: Change) -> None:
        frame = self._frame
        preparation = frame.preparation.with_scene(wanted.scene).with_settings(wanted.settings)
        is_flown_anew = preparation.settings != frame.preparation.settings
        self._keep(preparation)
        self._show_scene()
        if is_flown_anew:
            self._glow = None  # of other settings
        work = self.run() if is_flown_anew else self._refresh()
        background_tasks.create(work, name="light")

    def _show_unusual(self) -> None:
        """Tell what differs from the usual scene, so that nothing comes along in silence."""
        told = scene_words(self._frame.bench, self._scene)
        self._differs.text = told
        self._unusual.set_visibility(bool(told))

    def _show_scene(self) -> None:
        self._show_unusual()
        self._form.show(self._scene)
        self._inputs.show(self._scene)

    async def _refresh(self) -> None:
        """Show what is seen now; while that is computed, later changes wait and are joined."""
        self._is_stale = True
        if self._is_busy or self._glow is None:
            return
        self._is_busy = True
        try:
            while self._is_stale and self._glow is not None:
                self._is_stale = False
                settings, bench = self._frame.preparation.settings, self._frame.bench
                work = partial(
                    answer_and_render, bench, settings, self._scene, self._glow, self._seen
                )
                answered = await self._frame.compute("Judging the light", work)
                if answered is not None and not self._is_stale:
                    self._show(*answered)
        finally:
            self._is_busy = False

    def _show(self, answer: LightAnswer, picture: str) -> None:
        self._picture.show(picture, self._seen, answer.found)
        self._verdicts.clear()
        with self._verdicts:
            put_verdicts(answer, lambda: self._take(answer))
        self._changes.clear()
        with self._changes:
            put_changes(answer, self._frame.preparation, self._try_it)
        self._doubts.clear()
        with self._doubts:
            put_doubts(answer.doubts)

    def _take(self, answer: LightAnswer) -> None:
        exposure = answer.exposure
        self._changed({
            "camera.iso": exposure.iso,
            "camera.shutter": exposure.shutter,
            "camera.aperture": exposure.aperture,
        })  # fmt: skip


def _seen(text: str) -> Seen:
    known: dict[str, Seen] = {each: each for each in get_args(Seen)}
    return known.get(text, SHOWS_FIRST)
