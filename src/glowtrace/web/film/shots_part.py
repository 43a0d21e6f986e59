"""Film: knobs, captions and chapters from the shot list that it was filmed by."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

from nicegui import background_tasks
from nicegui.events import GenericEventArguments

from glowtrace.errors import GlowtraceError
from glowtrace.report.films.filmed_shots import (
    FilmedShot,
    filmed_shots,
    shots_from_json,
    with_shots,
)
from glowtrace.web.controls import box, button, complaint, file_button, hint, read_text, words
from glowtrace.web.film.film_work import FilmWork
from glowtrace.web.frame import Frame
from glowtrace.web.plan.plan_cache import PlanCache
from glowtrace.web.plan.sheet_files import make_sheet, make_shots

LARGEST: Final = 1_000_000
"""Bytes of a shot list."""


class ShotsPart:
    """The part of the page.

    Parameters
    ----------
    frame, work, plans
        The page around it, its film, and the plans that were made.
    on_taken
        Called when knobs and words were taken over.
    """

    def __init__(
        self, frame: Frame, work: FilmWork, plans: PlanCache, on_taken: Callable[[], object]
    ) -> None:
        self._frame, self._work, self._plans, self._on_taken = frame, work, plans, on_taken
        self._shots: Sequence[FilmedShot] = ()
        self._times: dict[int, float] = {}
        with box("fold", "details"):
            words("From the shot list", "summary")
            hint("Move to where a shot begins in the film, then press its “begins here”.")
            with box("ways-on"):
                button("Shots of this demonstration", self._make)
                file_button("Open a shot list (JSON)", ".json", read_text(LARGEST), self._open)
            self._list = box("film-shots", "ol")
            self._take = button("Take over knobs, captions and chapters", self._take_over)
            self._take.set_visibility(False)
            self._complaint = complaint()

    def _make(self) -> None:
        background_tasks.create(self._compute(), name="shots")

    async def _compute(self) -> None:
        frame, prepared = self._frame, self._work.prepared
        preparation, plans = frame.preparation, self._plans

        def work() -> tuple[FilmedShot, ...]:
            sheet = make_sheet(prepared, preparation, plans)
            return filmed_shots(make_shots(prepared, preparation, sheet))

        made = await frame.compute("Making the shot list", work)
        if made is not None:
            self._put(made)

    def _open(self, event: GenericEventArguments) -> None:
        name, text = event.args
        self._complaint.text = ""
        try:
            self._put(shots_from_json(text or "", name))
        except GlowtraceError as error:
            self._complaint.text = str(error)

    def _put(self, shots: Sequence[FilmedShot]) -> None:
        self._shots, self._times = shots, {}
        self._show()

    def _show(self) -> None:
        self._list.clear()
        self._take.set_visibility(bool(self._times))
        with self._list:
            for shot in self._shots:
                with box("film-shot", "li"):
                    words(f"{shot.number}. {shot.do}", "p")
                    with box("row"):
                        self._put_time(shot.number)

    def _put_time(self, number: int) -> None:
        begins = button("begins here", partial(self._begin, number), "plain")
        begins.props["aria-label"] = f"Shot {number} begins here"
        if number in self._times:
            words(f"{self._times[number]:.2f} s")
            drop = button("not in the film", partial(self._drop, number), "plain")
            drop.props["aria-label"] = f"Shot {number} is not in the film"

    def _begin(self, number: int) -> None:
        self._times[number] = round(self._work.at, 3)
        self._show()

    def _drop(self, number: int) -> None:
        del self._times[number]
        self._show()

    def _take_over(self) -> None:
        """Put what the shots tell in the place of what was typed."""
        self._complaint.text = ""
        bare = self._work.told.model_copy(update={"moment": (), "caption": (), "chapter": ()})
        try:
            told = with_shots(bare, self._shots, self._times)
            names = ("between", "moment", "caption", "chapter")
            self._work.change(**{name: getattr(told, name) for name in names})
        except GlowtraceError as error:
            self._complaint.text = str(error)
            return
        self._on_taken()
