"""The one clock of the benchmarks."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable


def seconds(task: Callable[[], object], repeats: int = 3) -> float:
    """Give the median time of a task."""
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        task()
        times.append(time.perf_counter() - begin)
    return statistics.median(times)
