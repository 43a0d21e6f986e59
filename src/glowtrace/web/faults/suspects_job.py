"""Computes the pictures of all faults beside the page, once for a bench at its settings.

A rough table of few cases comes first, so that an answer is there while the full one is computed.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from functools import partial
from typing import Final, NamedTuple

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.faults import Suspects, prepare_suspects
from glowtrace.faults.suspects import USUAL_DRAWS, is_kept
from glowtrace.watching import GivenUpError, Watch
from glowtrace.web.job import LOOK_EVERY, Job

KEPT: Final = 6
ROUGH_DRAWS: Final = 5


class Stage(NamedTuple):
    """How far it is: the best table so far, the share of the work that is done, and with what."""

    suspects: Suspects | None
    share: float
    text: str


async def suspects_stages(
    job: Job, cache: SuspectsCache, prepared: PreparedBench, settings: Settings
) -> AsyncIterator[Stage]:
    """Give the table, rough and then full, and how far it is in between, until given up."""
    best = cache.known(prepared.bench, settings)
    if best is not None:
        yield Stage(best, 1.0, "")
        return
    watch, begin = Watch(job.note, job.wants_end), 0.0
    is_at_hand = await asyncio.to_thread(is_kept, prepared, settings)
    for draws in (USUAL_DRAWS,) if is_at_hand else (ROUGH_DRAWS, USUAL_DRAWS):
        end = begin + draws / (ROUGH_DRAWS + USUAL_DRAWS)
        progress = watch.stretch(begin, end).note
        work = partial(prepare_suspects, prepared, settings, draws=draws, progress=progress)
        # Not in the rack's own turn: it takes long, and the knobs must stay quick meanwhile.
        task = asyncio.ensure_future(asyncio.to_thread(work))
        try:
            while not task.done():
                yield Stage(best, job.share or 0.0, job.words)
                await asyncio.wait({task}, timeout=LOOK_EVERY)
            best = task.result()
        except GivenUpError:
            return
        finally:
            if not task.done():
                job.give_up()
        begin = end
    if best is not None:
        cache.keep(best)
        yield Stage(best, 1.0, "")


@dataclass
class SuspectsCache:
    """The tables that were computed last, for all visitors."""

    _known: dict[tuple[Bench, Settings], Suspects] = field(default_factory=dict)

    def known(self, bench: Bench, settings: Settings) -> Suspects | None:
        """Give a table that was computed before."""
        return self._known.get((bench, settings))

    def keep(self, suspects: Suspects) -> None:
        """Keep a table."""
        self._known[suspects.bench, suspects.settings] = suspects
        while len(self._known) > KEPT:
            self._known.pop(next(iter(self._known)))
