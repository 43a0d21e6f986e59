"""Faults: what is seen, what it may be, what to check next, side by side."""

from __future__ import annotations

import asyncio
import logging
from typing import Final

import numpy as np
from nicegui import background_tasks
from numpy.typing import NDArray

from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError
from glowtrace.faults import Advice, Appearance, Fault, Ranking, Suspects, statements_for
from glowtrace.faults.statements import shape_of
from glowtrace.faults.variations import AS_SET
from glowtrace.web.controls import Choice, box, button, words
from glowtrace.web.faults.causes_view import CausesView
from glowtrace.web.faults.check_view import CheckView
from glowtrace.web.faults.evidence import open_checks, ranked
from glowtrace.web.faults.glow_drawing import glow_of
from glowtrace.web.faults.knob_states import knob_states, state_names
from glowtrace.web.faults.photograph_line import SeenPhotograph
from glowtrace.web.faults.sketch import Sketch, expected_pieces
from glowtrace.web.faults.statements_form import StatementsForm
from glowtrace.web.faults.suspects_job import SuspectsCache, suspects_stages
from glowtrace.web.faults.told import Told
from glowtrace.web.frame import Frame
from glowtrace.web.job import Job
from glowtrace.web.measure.photograph_files import PhotographFiles

Array = NDArray[np.float64]

SAFETY: Final = (
    "Before you touch a lead: high tension off and discharged. "
    "Local rules and the person responsible decide."
)
LINE_HINT: Final = (
    "Dashed: what should be there. Drag the line that you see, or draw it – as set, or with a "
    "knob turned."
)
SPOT_HINT: Final = (
    "Dashed: what should be there. Drag the spot that you see, and the point beside it for its "
    "size – as set, or with a knob turned."
)


KEPT: Final = (
    "Something was told on another bench that does not fit this one. It is kept, and counts there."
)


class FaultsPage:
    """The page.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where photographs arrive.
    cache
        Pictures of faults that were computed before.
    told
        What the address tells of what is seen.
    """

    def __init__(
        self, frame: Frame, files: PhotographFiles, cache: SuspectsCache, told: Told
    ) -> None:
        self._frame, self._cache, self._told = frame, cache, told
        self._prepared: PreparedBench | None = None
        self._suspects: Suspects | None = None
        self._job: Job | None = None
        self._asked = 0
        self._states = knob_states(frame.bench, frame.preparation.settings)
        self._state = AS_SET
        frame.carry(self._carried)
        frame.body.classes("faulting")
        with frame.body:
            words(SAFETY, "p", "faulting-safety").props('role="note"')
            self._photograph = SeenPhotograph(
                frame, files, lambda: self._states[self._state].settings, self._take_over
            )
            with box("columns faulting-columns"):
                with box("seen", "section").props('aria-label="What you see"'):
                    self._put_seen()
                with box("found-column", "section").props(
                    'aria-label="What it may be" id="causes"'
                ):
                    self._put_causes()
                with box("found-column", "section").props('aria-label="Check next"'):
                    with box("row spread column-head"):
                        words("Check next", "h2")
                    self._check = CheckView(frame.preparation, self._answer)
        frame.body.client.on_delete(self._stop)

    def _put_seen(self) -> None:
        frame = self._frame
        is_spot = frame.bench.plane.is_spot
        with box("row spread column-head"):
            words("What do you see?", "h2")
            if not is_spot:
                button("From a photograph", self._photograph.open, "plain")
        words(SPOT_HINT if is_spot else LINE_HINT, "p", "hint")
        self._names = state_names(frame.bench, self._states)
        if len(self._names) > 1:
            Choice("Knobs", self._names, self._choose_state).put(self._state)
        self._sketch = Sketch(frame.bench, self._sketched)
        self._also = words("", "p", "hint also-drawn")
        offered = statements_for(frame.bench, frame.preparation.settings)
        self._offered = {each.key for each in offered}
        statements = StatementsForm(shape_of(frame.bench, frame.preparation.settings), self._say)
        statements.offer(offered, self._told.said, self._told.denied)
        if self._told.elsewhere or self._here != self._told:
            words(KEPT, "p", "hint")

    @property
    def _here(self) -> Told:
        """What is told and counts on this bench."""
        return self._told.known_here(self._offered, self._states)

    def _carried(self, place: str) -> str:
        here = self._frame.preparation.place
        return (self._told if place == here else self._told.left(here)).query

    def _put_causes(self) -> None:
        with box("row spread column-head"):
            words("What it may be", "h2")
        with box("computing") as self._computing:
            self._progress = words("", "p", "hint")
            with box("ways-on"):
                self._stopper = button("Stop computing", self._stop)
                self._starter = button("Compute what faults look like", self._start)
        self._causes = CausesView(self._frame.bench, self._frame.preparation, self._open)

    async def run(self) -> None:
        """Draw what is expected, then compute what every fault would look like."""
        self._show_state("Getting the bench ready …", is_running=True)
        self._prepared = await self._frame.prepared()
        if self._prepared is None:
            self._show_state("The fields of this bench could not be built.", is_running=False)
            return
        await self._frame.body.client.connected()
        await self._draw_expected()
        await self._compute()

    async def _draw_expected(self) -> None:
        """Draw what should be seen in the chosen state, and what is told to be seen."""
        prepared, state = self._prepared, self._state
        if prepared is None:
            return
        settings = self._states[state].settings
        pieces = await self._frame.compute(
            "Drawing what is expected", lambda: expected_pieces(prepared, settings)
        )
        if state == self._state:
            self._sketch.expect(pieces or ())
            self._sketch.start(self._told.sketch(state))
            self._show_also()

    def _show_also(self) -> None:
        """Say in which other states a line is drawn: it counts, though it is not in sight."""
        others = [self._names[each] for each, _ in self._told.sketches if each != self._state]
        self._also.text = f"Also drawn: {', '.join(others)}." if others else ""

    def _choose_state(self, state: str) -> None:
        self._state = state

        async def draw() -> None:
            await self._draw_expected()
            await self._rank()

        background_tasks.create(draw(), name="state of the knobs")

    # ---- computing -------------------------------------------------------------------------------

    def _start(self) -> None:
        background_tasks.create(self._compute(), name="faults")

    def _stop(self) -> None:
        if self._job is not None:
            self._job.give_up()

    async def _compute(self) -> None:
        """Compute the pictures of all faults; rank with what there is as soon as there is any."""
        prepared = self._prepared
        if prepared is None:
            return
        job = self._job = Job()
        settings = self._frame.preparation.settings
        is_whole = False
        try:
            async for stage in suspects_stages(job, self._cache, prepared, settings):
                self._show_stage(stage.suspects is not None, stage.share, stage.text)
                is_whole = stage.share == 1.0
                if stage.suspects is not self._suspects:
                    self._suspects = stage.suspects
                    await self._rank()
        except GlowtraceError as error:
            self._frame.say(str(error))
        except Exception as error:  # the page must live on
            logging.getLogger(__name__).exception("faults could not be computed")
            self._frame.say(f"What faults look like could not be computed: {error}")
        finally:
            self._frame.show_working("")
            rough = "Stopped: the shares are rough." if self._suspects else "Stopped."
            self._show_state("" if is_whole else rough, is_running=False)

    def _show_stage(self, has_answer: bool, share: float, text: str) -> None:
        doing = f"Computing what faults look like: {text}".removesuffix(": ")
        self._frame.show_working(f"{doing} …", share)
        self._show_state(
            "These shares are rough; better ones are being computed."
            if has_answer
            else "What each fault would look like is being computed; tell meanwhile what you see.",
            is_running=True,
        )

    def _show_state(self, text: str, *, is_running: bool) -> None:
        self._progress.text = text
        self._computing.set_visibility(bool(text))
        self._stopper.set_visibility(is_running and self._job is not None)
        self._starter.set_visibility(not is_running)

    # ---- what is told ----------------------------------------------------------------------------

    def _say(self, statement: str, holds: bool | None) -> None:
        self._tell(self._told.saying(statement, holds))

    def _sketched(self, points: Array) -> None:
        self._tell(self._told.sketching(self._state, _places(points)))

    def _take_over(self, points: Array) -> None:
        self._sketch.put(points)
        self._tell(self._told.sketching(self._state, _places(points), is_photographed=True))

    def _answer(self, check: str, outcome: str) -> None:
        self._tell(self._told.answering(check, outcome))

    def _tell(self, told: Told) -> None:
        self._told = told
        self._frame.say("")
        self._frame.keep(self._frame.preparation, told.query)
        background_tasks.create(self._rank(), name="ranking")

    # ---- what it may be --------------------------------------------------------------------------

    async def _rank(self) -> None:
        """Rank the causes after all that is told, and find the next check."""
        suspects, told, state = self._suspects, self._here, self._state
        if suspects is None:
            return
        self._asked += 1
        asked = self._asked

        def work() -> tuple[Ranking, tuple[Advice, ...], tuple[Fault, ...]]:
            ranking = ranked(suspects, told)
            return ranking, open_checks(ranking, told), suspects.hidden

        try:
            ranking, advice, hidden = await asyncio.to_thread(work)
        except GlowtraceError as error:
            self._frame.say(str(error))
            return
        if asked == self._asked:
            self._causes.show(ranking, told, state, hidden)
            self._check.show(ranking, advice)

    def _open(self, name: str, appearance: Appearance | None) -> None:
        """Draw on the screen what the opened cause would look like."""
        self._sketch.show(glow_of(appearance), name)


def _places(points: Array) -> tuple[tuple[float, float], ...]:
    return tuple((round(1e3 * u, 1), round(1e3 * v, 1)) for u, v in points.tolist())
