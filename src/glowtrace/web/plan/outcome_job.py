"""Computes a map beside the page: the whole of it coarsely first, then finely."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np

from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.plan import OutcomeMap, Row, outcome_map
from glowtrace.watching import Progress, Watch
from glowtrace.web.job import Job
from glowtrace.web.plan.outcome_axes import Axes
from glowtrace.web.plan.outcome_picture import map_image

COARSE: Final = 50
FINE: Final = 200
_FIRST: Final = COARSE**2 / (COARSE**2 + FINE**2)
"""Share of the work that the coarse map is."""
EVERY_S: Final = 0.7


class Stage(NamedTuple):
    """What is known of a map, and its picture."""

    outcome: OutcomeMap
    image: str


@dataclass
class OutcomeWork:
    """One map in the making, in a thread of its own.

    Parameters
    ----------
    job
        Is told how far it is, and gives it up.
    prepared, settings, axes
        The bench, all that is not on the axes, and the axes.

    Attributes
    ----------
    newest
        What is known so far; None until there is anything.
    """

    job: Job
    prepared: PreparedBench
    settings: Settings
    axes: Axes
    newest: Stage | None = None

    def run(self) -> None:
        """Compute the map, better and better; GivenUpError where it is given up."""
        watch = Watch(self.job.note, self.job.wants_end)
        coarse = self._compute(COARSE, watch.stretch(0.0, _FIRST).note)
        self._put(coarse)
        codes = np.kron(coarse.codes, np.ones((FINE // COARSE,) * 2, dtype=np.int8))
        x, y = (np.linspace(along[0], along[-1], FINE) for along in (coarse.x, coarse.y))
        put_at = time.monotonic()

        def take(row: Row) -> None:
            nonlocal put_at
            codes[row.number] = row.codes
            if time.monotonic() - put_at > EVERY_S:
                put_at = time.monotonic()
                self._put(replace(coarse, codes=codes.copy(), x=x, y=y, is_complete=False))

        self._put(self._compute(FINE, watch.stretch(_FIRST, 1.0).note, take))

    def _put(self, outcome: OutcomeMap) -> None:
        self.newest = Stage(outcome, map_image(outcome.codes, outcome.labels))

    def _compute(
        self, side: int, progress: Progress, take: Callable[[Row], None] | None = None
    ) -> OutcomeMap:
        axes = self.axes
        return outcome_map(
            self.prepared,
            self.settings,
            axes.across,
            axes.up,
            x_range=axes.reach_across,
            y_range=axes.reach_up,
            size=(side, side),
            progress=progress,
            cancelled=self.job.wants_end,
            on_row=take,
        )
