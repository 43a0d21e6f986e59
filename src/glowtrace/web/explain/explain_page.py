"""Explain: the electron on its path, and below it the causes and the wrong accounts."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from typing import Final

from nicegui import background_tasks

from glowtrace.bench.picture import Model, Ray
from glowtrace.bench.prepared import PreparedBench
from glowtrace.constants import ELEMENTARY_CHARGE
from glowtrace.explain.accounts import WrongAccount, wrong_accounts
from glowtrace.explain.differences import Differences, find_differences
from glowtrace.explain.explanation import Explanation, explain
from glowtrace.explain.followed import followed_ray
from glowtrace.explain.spread import Spread, find_spread
from glowtrace.explain.writing import energy_text
from glowtrace.watching import Cancelled, Progress
from glowtrace.web.address import fragment, read_state, told_state
from glowtrace.web.controls import Choice, box, button, hint, words
from glowtrace.web.explain.message import stage_message
from glowtrace.web.explain.sections import put_accounts, put_differences, put_spread
from glowtrace.web.explain.stage import Frame as Seen
from glowtrace.web.explain.stage import Stage
from glowtrace.web.frame import Frame
from glowtrace.words.bench import model_choices

TOLD_FROM: Final = 1.0
"""Energy in eV that sharp edges give away or take, from which it is told."""


@dataclass(frozen=True)
class ExplainView:
    """Which model gives the motion, and by whom it is seen."""

    model: Model = "bench"
    seen: Seen = "laboratory"


class ExplainPage:
    """The page."""

    def __init__(self, frame: Frame, query: Mapping[str, str]) -> None:
        self._frame = frame
        view = read_state(query, ExplainView())
        self._model, self._seen = view.model, view.seen
        self._prepared: PreparedBench | None = None
        self._turn = 0
        frame.body.classes("explaining")
        with frame.body:
            self._stage = Stage(self._seen, self._choose_frame)
            with self._stage:
                Choice("Fields", model_choices(), self._choose_model).put(self._model)
            self._note = words("", "p", "small quiet").props('role="status"')
            with box("columns"):
                with box("explain-part", "section").props('aria-label="Textbook against bench"'):
                    words("Why it is not as in the textbook", "h2")
                    self._differences = box("explain-content")
                with box("explain-part", "section").props('aria-label="Why it spreads"'):
                    words(f"Why the {_light(frame)} is as wide as it is", "h2")
                    self._spread = box("explain-content")
            with box("explain-part", "section").props('aria-label="Often told"'):
                words("Often told, and what this trace says", "h2")
                self._accounts = box("explain-content")

    async def run(self) -> None:
        """Compute and show everything, the stage first."""
        self._prepared = await self._frame.prepared()
        if self._prepared is None:
            return
        await self._show_motion()
        await self._show_differences()
        await self._show_spread()

    def _choose_model(self, model: str) -> None:
        self._model = "ideal" if model == "ideal" else "bench"
        self._keep()
        background_tasks.create(self._show_other_model(), name="explain another model")

    def _choose_frame(self, seen: Seen) -> None:
        self._seen = seen
        self._keep()

    def _keep(self) -> None:
        told = told_state(ExplainView(self._model, self._seen), ExplainView())
        self._frame.keep(self._frame.preparation, fragment(told))

    async def _show_other_model(self) -> None:
        if self._prepared is None:
            return
        await self._show_motion()
        await self._show_spread()

    async def _show_motion(self) -> None:
        """Show the electron and the accounts of its path."""
        prepared, model = self._prepared, self._model
        settings = self._frame.preparation.settings
        assert prepared is not None

        def work() -> tuple[Explanation, Ray, tuple[WrongAccount, ...]]:
            trace = explain(prepared, settings, model=model)
            other = followed_ray(prepared, settings, model="ideal" if model == "bench" else "bench")
            return trace, other, wrong_accounts(prepared, trace)

        found = await self._frame.compute("Following an electron", work)
        if found is None or model != self._model:
            return
        trace, other, accounts = found
        self._stage.show(stage_message(trace, other))
        self._note.text = _note(trace)
        self._accounts.clear()
        with self._accounts:
            put_accounts(accounts)

    async def _show_differences(self) -> None:
        """Show the difference between textbook and bench; it does not depend on the model shown."""
        prepared = self._prepared
        settings = self._frame.preparation.settings
        assert prepared is not None

        def work(progress: Progress, cancelled: Cancelled) -> tuple[Differences | None]:
            return (find_differences(prepared, settings, progress=progress, cancelled=cancelled),)

        found = await self._frame.compute_long("Differences, one by one", work)
        self._differences.clear()
        with self._differences:
            if found is None:
                _put_not_computed(self._show_differences)
                return
            put_differences(found[0])
            if found[0] is not None and not prepared.earth.any():
                hint(
                    "Earth’s field is left out, as this bench’s file says so. It could shift the "
                    "trace as well."
                )

    async def _show_spread(self) -> None:
        prepared, model = self._prepared, self._model
        settings = self._frame.preparation.settings
        assert prepared is not None

        def work(progress: Progress, cancelled: Cancelled) -> tuple[Spread | None]:
            def is_over() -> bool:
                return cancelled() or model != self._model

            return (
                find_spread(prepared, settings, model=model, progress=progress, cancelled=is_over),
            )

        found = await self._frame.compute_long("Width, cause by cause", work)
        if model != self._model:
            return
        self._spread.clear()
        with self._spread:
            if found is None:
                _put_not_computed(self._show_spread)
                return
            put_spread(found[0])


def _put_not_computed(compute: Callable[[], Awaitable[None]]) -> None:
    """Say that something was given up, and offer it again."""
    hint("Not computed.")
    button("Compute it", compute)


def _light(frame: Frame) -> str:
    return "spot" if frame.bench.plane.is_spot else "line"


def _followed(trace: Explanation) -> str:
    """Say which electron is followed."""
    if trace.launch.up:
        return "Followed is an electron at the edge of the beam."
    return "Followed is the electron in the middle of the beam."


def _note(trace: Explanation) -> str:
    """Say which electron is followed, and what must be known about its energy."""
    if not trace.flies:
        return "No electron leaves the gun at these settings, so there is nothing to explain."
    step = trace.account.edge_step
    if abs(step) > TOLD_FROM * ELEMENTARY_CHARGE:
        given = "too much" if step > 0 else "too little"
        return (
            f"{_followed(trace)} Sharp edges do not keep the energy: in the uniform field of the "
            f"textbook it ends with {energy_text(abs(step))} {given}, which the edges of real "
            "plates would take or give."
        )
    return f"{_followed(trace)} Its kinetic and potential energy together are kept all along."
