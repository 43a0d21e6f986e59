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
from glowtrace.faults.suspects import USUAL_DRAWS
from glowtrace.watching import GivenUpError

KEPT: Final = 6
EVERY_S: Final = 0.25
ROUGH_DRAWS: Final = 5


class Stage(NamedTuple):
    """How far it is: the best table so far, the share of the work that is done, and with what."""

    suspects: Suspects | None
    share: float
    text: str


@dataclass
class SuspectsJob:
    """One computation. Written by the computing thread, read by the page."""

    is_stopped: bool = False
    _done: float = 0.0
    _share: float = 0.0
    _text: str = ""

    async def stages(
        self, cache: SuspectsCache, prepared: PreparedBench, settings: Settings
    ) -> AsyncIterator[Stage]:
        """Give the table, rough and then full, and how far it is in between, until stopped."""
        best = cache.known(prepared.bench, settings)
        if best is not None:
            yield Stage(best, 1.0, "")
            return
        whole = ROUGH_DRAWS + USUAL_DRAWS
        for draws in (ROUGH_DRAWS, USUAL_DRAWS):
            work = partial(prepare_suspects, prepared, settings, draws=draws,
                           progress=partial(self._report, draws / whole))  # fmt: skip
            # Not in the rack's own turn: it takes long, and the knobs must stay quick meanwhile.
            task = asyncio.ensure_future(asyncio.to_thread(work))
            try:
                while not task.done():
                    yield Stage(best, self._done + self._share, self._text)
                    await asyncio.wait({task}, timeout=EVERY_S)
                best = task.result()
            except GivenUpError:
                return
            finally:
                self.is_stopped = self.is_stopped or not task.done()
            self._done += draws / whole
            self._share = 0.0
        if best is not None:
            cache.keep(best)
            yield Stage(best, 1.0, "")

    def _report(self, part: float, share: float, text: str) -> None:
        """Note how far it is, and end it where that is wanted."""
        if self.is_stopped:
            raise GivenUpError
        self._share, self._text = part * share, text


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
