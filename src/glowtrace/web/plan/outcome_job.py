"""Computes a map beside the page: the whole of it coarsely first, then finely."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Final, NamedTuple

import numpy as np

from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.plan import OutcomeMap, Row, outcome_map
from glowtrace.web.plan.outcome_axes import Axes
from glowtrace.web.plan.outcome_picture import map_image

COARSE: Final = 50
FINE: Final = 200
EVERY_S: Final = 0.7


class Stage(NamedTuple):
    """How far a map is: what is known of it, and the share of the work that is done."""

    outcome: OutcomeMap
    image: str
    share: float


@dataclass
class OutcomeJob:
    """One map in the making.

    Parameters
    ----------
    prepared, settings, axes
        The bench, all that is not on the axes, and the axes.
    """

    prepared: PreparedBench
    settings: Settings
    axes: Axes
    is_cancelled: bool = False
    _share: float = 0.0

    async def stages(self) -> AsyncIterator[Stage]:
        """Give the map, better and better, until it is complete or was cancelled."""
        coarse = await asyncio.to_thread(self._compute, COARSE, None)
        yield await self._stage(coarse)
        if self.is_cancelled:
            return
        codes = np.kron(coarse.codes, np.ones((FINE // COARSE,) * 2, dtype=np.int8))
        x, y = (np.linspace(along[0], along[-1], FINE) for along in (coarse.x, coarse.y))

        def take(row: Row) -> None:
            codes[row.number] = row.codes

        work = asyncio.ensure_future(asyncio.to_thread(self._compute, FINE, take))
        try:
            while not work.done():
                await asyncio.wait({work}, timeout=EVERY_S)
                seen = replace(coarse, codes=codes.copy(), x=x, y=y, is_complete=work.done())
                yield await self._stage(seen)
            work.result()  # a defect in the computation must be seen
        finally:
            self.is_cancelled = True

    async def _stage(self, outcome: OutcomeMap) -> Stage:
        image = await asyncio.to_thread(map_image, outcome.codes, outcome.labels)
        return Stage(outcome, image, self._share)

    def _compute(self, side: int, take: Callable[[Row], None] | None) -> OutcomeMap:
        axes = self.axes
        return outcome_map(
            self.prepared,
            self.settings,
            axes.across,
            axes.up,
            x_range=axes.reach_across,
            y_range=axes.reach_up,
            size=(side, side),
            progress=partial(self._note, side),
            cancelled=lambda: self.is_cancelled,
            on_row=take,
        )

    def _note(self, side: int, share: float, _: str) -> None:
        coarse = COARSE**2 / (COARSE**2 + FINE**2)
        self._share = coarse * share if side == COARSE else coarse + (1 - coarse) * share
