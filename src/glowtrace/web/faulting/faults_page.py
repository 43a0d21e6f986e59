"""Faults: what is seen, what it may be, what to check next, side by side."""

from __future__ import annotations

import asyncio
import logging
from typing import Final

import numpy as np
from nicegui import background_tasks
from numpy.typing import NDArray

from glowtrace.bench.model import EndFace
from glowtrace.errors import GlowtraceError
from glowtrace.faults import Advice, Ranking, Standing, Suspects, next_checks, statements_for
from glowtrace.web.controls import box, button, words
from glowtrace.web.faulting.cause_picture import glow_path, glow_width
from glowtrace.web.faulting.causes_view import CausesView
from glowtrace.web.faulting.check_view import CheckView
from glowtrace.web.faulting.evidence import ranked
from glowtrace.web.faulting.photograph_line import SeenPhotograph
from glowtrace.web.faulting.sketch import Sketch, expected_pieces
from glowtrace.web.faulting.statements_form import StatementsForm
from glowtrace.web.faulting.suspects_job import SuspectsCache, SuspectsJob
from glowtrace.web.faulting.told import Told
from glowtrace.web.frame import Frame
from glowtrace.web.measuring.photograph_files import PhotographFiles

Array = NDArray[np.float64]

SAFETY: Final = (
    "Before you touch a lead: high tension off and discharged. "
    "Local rules and the person responsible decide."
)
LINE_HINT: Final = "Drag the line that you see, or draw it; dashed: what should be there."
SPOT_HINT: Final = (
    "Drag the spot that you see; the point beside it sets its size. Dashed: what should be there."
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
        self._suspects: Suspects | None = None
        self._job: SuspectsJob | None = None
        self._asked = 0
        frame.body.classes("faulting")
        with frame.body:
            words(SAFETY, "p", "faulting-safety").props('role="note"')
            self._photograph = SeenPhotograph(frame, files, self._take_over)
            with box("faulting-columns"):
                with box("seen", "section").props('aria-label="What you see"'):
                    self._put_seen()
                with box("found-column", "section").props(
                    'aria-label="What it may be" id="causes"'
                ):
                    self._put_causes()
                with box("found-column", "section").props('aria-label="Check next"'):
                    with box("column-head"):
                        words("Check next", "h3")
                    self._check = CheckView(frame.preparation, self._answer)
        frame.body.client.on_delete(self._stop)

    def _put_seen(self) -> None:
        frame = self._frame
        is_spot = isinstance(frame.bench.screen, EndFace)
        with box("column-head"):
            words("What do you see?", "h3")
            if not is_spot:
                button("From a photograph", self._photograph.open, "plain")
        words(SPOT_HINT if is_spot else LINE_HINT, "p", "hint")
        self._sketch = Sketch(frame.bench, self._sketched)
        self._statements = StatementsForm("spot" if is_spot else "line", self._say)
        offered = statements_for(frame.bench, frame.preparation.settings)
        known = {each.key for each in offered}
        self._told = self._told.only_saying(known)
        self._statements.offer(offered, self._told.said)

    def _put_causes(self) -> None:
        with box("column-head"):
            words("What it may be", "h3")
        with box("computing") as self._computing:
            self._progress = words("", "p", "hint")
            with box("ways-on"):
                self._stopper = button("Stop computing", self._stop)
                self._starter = button("Compute what faults look like", self._start)
        self._causes = CausesView(self._frame.bench, self._open)

    async def run(self) -> None:
        """Draw what is expected, then compute what every fault would look like."""
        self._show_state("Getting the bench ready …", is_running=True)
        prepared = await self._frame.prepared()
        if prepared is None:
            self._show_state("The fields of this bench could not be built.", is_running=False)
            return
        await self._frame.body.client.connected()
        settings = self._frame.preparation.settings
        pieces = await self._frame.compute(
            "Drawing what is expected", lambda: expected_pieces(prepared, settings)
        )
        self._sketch.expect(pieces or ())
        if self._told.sketch:
            self._sketch.put(np.array(self._told.sketch) / 1e3)
        await self._compute()

    # ---- computing -------------------------------------------------------------------------------

    def _start(self) -> None:
        background_tasks.create(self._compute(), name="faults")

    def _stop(self) -> None:
        if self._job is not None:
            self._job.is_stopped = True

    async def _compute(self) -> None:
        """Compute the pictures of all faults; rank with what there is as soon as there is any."""
        prepared = await self._frame.prepared()
        if prepared is None:
            return
        job = self._job = SuspectsJob()
        settings = self._frame.preparation.settings
        is_whole = False
        try:
            async for stage in job.stages(self._cache, prepared, settings):
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
        self._frame.show_working(f"Computing what faults look like: {text} …", share)
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

    def _say(self, statement: str, holds: bool) -> None:
        self._tell(self._told.saying(statement, holds))

    def _sketched(self, points: Array) -> None:
        self._tell(self._told.sketching(_places(points)))

    def _take_over(self, points: Array) -> None:
        self._sketch.put(points)
        self._tell(self._told.sketching(_places(points), is_photographed=True))

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
        suspects, told = self._suspects, self._told
        if suspects is None:
            return
        self._asked += 1
        asked = self._asked

        def work() -> tuple[Ranking, tuple[Advice, ...]]:
            ranking = ranked(suspects, told)
            return ranking, next_checks(ranking)

        try:
            ranking, advice = await asyncio.to_thread(work)
        except GlowtraceError as error:
            self._frame.say(str(error))
            return
        if asked == self._asked:
            self._causes.show(ranking, told)
            self._check.show(ranking, advice)

    def _open(self, standing: Standing | None) -> None:
        """Draw on the screen what the opened cause would look like."""
        appearance = None if standing is None else standing.appearance
        name = "" if standing is None else standing.fault.title
        self._sketch.show(glow_path(appearance), glow_width(appearance), name)


def _places(points: Array) -> tuple[tuple[float, float], ...]:
    return tuple((round(1e3 * u, 1), round(1e3 * v, 1)) for u, v in points.tolist())
