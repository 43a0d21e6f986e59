"""Monte Carlo trials beside the page: nobody else's page waits for them.

Trials of a bench are traced, seconds each, so they run in a process of their own, which is ended
when nobody wants them any more. Trials of closed forms are quick, and run in a thread.
"""

from __future__ import annotations

import asyncio
import math
import multiprocessing
import os
from collections.abc import AsyncIterator, Iterator
from itertools import islice
from multiprocessing.connection import Connection
from typing import Final

from glowtrace.bench.prepared import prepare
from glowtrace.errors import GlowtraceError
from glowtrace.measure.fits.intervals import monte_carlo_trials
from glowtrace.web.job import Job
from glowtrace.web.measure.fit_run import FitRequest, FitRun, run_fit

TRIALS: Final = 200
_AT_ONCE: Final = 10
"""Trials of closed forms between two looks at the page."""
_PAUSE_S: Final = 0.1


class Trials:
    """Makes the trials of all visitors; those of benches one check after the other."""

    def __init__(self) -> None:
        self._turn = asyncio.Semaphore(1)

    @property
    def is_busy(self) -> bool:
        """Whether somebody's trials of a bench are being made."""
        return self._turn.locked()

    async def of(self, run: FitRun, job: Job) -> AsyncIterator[float]:
        """Give the wanted parameter of one trial after the other; NaN where one cannot be fitted.

        ``job`` gives them up.

        Raises
        ------
        GlowtraceError
            The fit cannot be made again, or its process was ended from outside.
        """
        if run.setup.model == "ideal":
            found = monte_carlo_trials(run.fit, run.wanted)
            for _ in range(0, TRIALS, _AT_ONCE):
                for value in await asyncio.to_thread(_some, found):
                    if job.is_given_up:
                        return
                    yield value
            return
        async with self._turn:
            context = multiprocessing.get_context("spawn")  # the page has threads: no fork
            here, there = context.Pipe(duplex=False)
            process = context.Process(target=_send_trials, args=(run.request, there), daemon=True)
            await asyncio.to_thread(process.start)
            there.close()
            try:
                for _ in range(TRIALS):
                    while not here.poll():
                        if job.is_given_up:
                            return
                        await asyncio.sleep(_PAUSE_S)
                    yield _received(here)
            finally:
                process.kill()
                here.close()


def _received(connection: Connection) -> float:
    try:
        received = connection.recv()
    except EOFError:
        received = "the trials were ended from outside; try again"
    if isinstance(received, str):
        raise GlowtraceError(received)
    return float(received)


def _some(trials: Iterator[float]) -> list[float]:
    return list(islice(trials, _AT_ONCE))


def _send_trials(request: FitRequest, connection: Connection) -> None:
    """Make the fit again, and send trials until nobody listens; a text says what went wrong."""
    if hasattr(os, "nice"):
        os.nice(10)  # the page comes first
    try:
        run = run_fit(prepare(request.bench), request)
        for value in islice(monte_carlo_trials(run.fit, run.wanted), TRIALS):
            connection.send(value if math.isfinite(value) else math.nan)
    except GlowtraceError as error:
        connection.send(str(error))
    except (BrokenPipeError, KeyboardInterrupt):
        return
