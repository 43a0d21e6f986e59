"""Monte Carlo trials beside the page: the same numbers from another process, ended when told."""

from __future__ import annotations

import asyncio
import math
import multiprocessing
from collections.abc import Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from contextlib import aclosing
from itertools import islice
from typing import Any

import numpy as np
import pytest

from glowtrace.bench.prepared import PreparedBench
from glowtrace.measure.fits.intervals import monte_carlo_trials
from glowtrace.measure.invented import invented_readings
from glowtrace.measure.usual_meters import meter_names, usual_meter
from glowtrace.web.job import Job
from glowtrace.web.measure.fit_run import FitRequest, FitRun, check_by_trials, run_fit
from glowtrace.web.measure.trials import TRIALS, Trials


def run_apart(work: Callable[[], Coroutine[Any, Any, list[float]]]) -> list[float]:
    """Run in a thread of its own: the browser that drives other tests has a loop in this one."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(lambda: asyncio.run(work())).result(timeout=300)


def fitted(prepared: PreparedBench, model: str) -> FitRun:
    meters = {name: usual_meter(name, "circle") for name in meter_names("circle")}
    readings = invented_readings(prepared, "circle", meters)
    return run_fit(prepared, FitRequest(prepared.bench, readings, model, "none", False, {}))


@pytest.mark.thorough
def test_trials_of_closed_forms_agree_with_the_linear_result(
    fine_beam_bulb: PreparedBench,
) -> None:
    run = fitted(fine_beam_bulb, "ideal")

    async def every() -> list[float]:
        return [value async for value in Trials().of(run, Job())]

    values = np.array(run_apart(every))
    assert len(values) == TRIALS
    # The scatter of a standard deviation of n normal values is 1 / sqrt(2 n): GUM table E.1.
    spread = values.std(ddof=1)
    assert spread == pytest.approx(run.budget.uncertainty, rel=4 / math.sqrt(2 * TRIALS))
    assert check_by_trials(run, values).warning == ""


@pytest.mark.slow
def test_trials_of_a_bench_come_from_another_process_and_end_with_it(
    fine_beam_bulb: PreparedBench,
) -> None:
    run = fitted(fine_beam_bulb, "bench")
    here = list(islice(monte_carlo_trials(run.fit, run.wanted), 2))
    trials = Trials()

    async def two() -> list[float]:
        found = []
        async with aclosing(trials.of(run, Job())) as values:
            async for value in values:
                found.append(value)
                assert trials.is_busy
                assert len(multiprocessing.active_children()) == 1
                if len(found) == 2:
                    break
        return found

    assert run_apart(two) == pytest.approx(here, rel=1e-9)
    assert not trials.is_busy
    for child in multiprocessing.active_children():
        child.join(10)
    assert multiprocessing.active_children() == []
