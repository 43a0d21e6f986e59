"""The benches that the page offers, and their fields, built once for all visitors."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from typing import Final, TypeVar

from glowtrace.bench.knowledge import knowledge_of
from glowtrace.bench.learning import Belief, learn
from glowtrace.bench.model import Bench
from glowtrace.bench.number_effects import number_effects
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.demos.opening import opening_settings
from glowtrace.errors import BenchError, GlowtraceError, Problem, StoreError
from glowtrace.store import Store
from glowtrace.web.job import Job
from glowtrace.web.showing import Detail, Setup, Showing, compute_showing

READY_MADE: Final = "ready-made"
SAVED: Final = "saved"
OPENED: Final = "opened"


Result = TypeVar("Result")


@dataclass(frozen=True)
class Build:
    """A bench whose fields are being built, or were."""

    task: asyncio.Task[PreparedBench]
    job: Job


@dataclass
class Rack:
    """All benches. A bench has a place "group/name", which also goes into the page's address.

    Parameters
    ----------
    store
        Where saved benches are; None where the database cannot be opened.
    trouble
        Why it could not, for every page to tell.
    """

    store: Store | None
    trouble: str = ""
    _opened: dict[str, Bench] = field(default_factory=dict)
    _builds: dict[Bench, Build] = field(default_factory=dict)
    _worker: ThreadPoolExecutor = field(
        default_factory=lambda: ThreadPoolExecutor(max_workers=1, thread_name_prefix="fields")
    )
    _painter: ThreadPoolExecutor = field(
        default_factory=lambda: ThreadPoolExecutor(max_workers=1, thread_name_prefix="pictures")
    )

    async def compute(self, work: Callable[[], Result]) -> Result:
        """Compute beside the page, which stays responsive.

        One thing at a time: the compiled code that builds fields spreads over all cores by
        itself, and not every platform lets two threads enter it at once.
        """
        return await asyncio.get_running_loop().run_in_executor(self._worker, work)

    async def picture(self, setup: Setup, detail: Detail) -> Showing:
        """Compute a picture without waiting for what takes long; it builds no fields."""
        return await self.paint(partial(compute_showing, setup, detail))

    async def paint(self, work: Callable[[], Result]) -> Result:
        """Compute what a page shows now, beside what takes long; it must build no fields."""
        return await asyncio.get_running_loop().run_in_executor(self._painter, work)

    def compute_in_turn(self, work: Callable[[], Result]) -> Result:
        """Compute one piece of something long, from a thread that waits for its turn.

        Never from the page's own thread, which must not wait.
        """
        return self._worker.submit(work).result()

    @property
    def kept(self) -> Store:
        """The database; StoreError where it could not be opened."""
        if self.store is None:
            raise StoreError("Nothing can be saved or reopened: the database could not be opened.")
        return self.store

    def remember(self, name: str, number: float) -> None:
        """Keep a number over a restart, where that can be."""
        if self.store is not None:
            with suppress(StoreError):  # it counts until then all the same
                self.store.remembered.put_number(name, number)

    def remembered(self, name: str, low: float, high: float, usual: float) -> float:
        """Give the number that was kept; the usual one for none, or one out of its range."""
        number: float | None = None
        if self.store is not None:
            with suppress(StoreError):
                number = self.store.remembered.number(name)
        return number if number is not None and low <= number <= high else usual

    def offer(self) -> dict[str, dict[str, str]]:
        """Give the names of all benches by place, by group in words."""
        saved = () if self.store is None else self.store.benches.list()
        return {
            "Ready-made": {f"{READY_MADE}/{name}": name for name in ready_made_names()},
            "Saved": {f"{SAVED}/{one.name}": one.name for one in saved},
            "Opened": {f"{OPENED}/{name}": name for name in self._opened},
        }

    def bench(self, place: str) -> Bench:
        """Give the bench at a place; GlowtraceError where there is none."""
        group, _, name = place.partition("/")
        if group == OPENED and name in self._opened:
            return self._opened[name]
        if group == SAVED and self.store is not None:
            return self.store.benches.open(name).bench
        if group == READY_MADE:
            return ready_made(name)
        problem = Problem("bench", f'"{place}"', "choose one from the menu, or open its file again")
        raise BenchError("the page", [problem])

    def take_in(self, bench: Bench) -> str:
        """Give a bench a place until the server ends, or the one that it has already."""
        for place in self._candidates(bench):
            with suppress(GlowtraceError):  # a saved bench that cannot be read is another one
                if self.bench(place) == bench:
                    return place
        self._opened[bench.name] = bench
        return f"{OPENED}/{bench.name}"

    def keep(self, bench: Bench) -> str:
        """Save a bench under its own name and give its place; an earlier version stays saved."""
        if self.store is None or self.take_in(bench).startswith(READY_MADE):
            return self.take_in(bench)
        self._opened.pop(bench.name, None)
        self.store.benches.save(bench.name, bench, overwrite=True)
        return f"{SAVED}/{bench.name}"

    def build(self, bench: Bench) -> Build:
        """Give the bench's fields as they are being built, or were; a failed build starts anew."""
        known = self._builds.get(bench)
        if known is None or (known.task.done() and known.task.exception() is not None):
            job = Job(words="reading the bench")
            task = asyncio.create_task(self.compute(lambda: _prepare(bench, job)))
            known = self._builds[bench] = Build(task, job)
        return known

    async def believe(self, prepared: PreparedBench) -> Belief:
        """Find what is believed about a bench's numbers; pictures go on between the pieces of it.

        GlowtraceError where what was seen on it cannot have been.
        """
        return await asyncio.to_thread(self._believe, prepared)

    def _believe(self, prepared: PreparedBench) -> Belief:
        if knowledge_of(prepared.bench).names:
            number_effects(prepared.bench, prepared.cache_dir, self.compute_in_turn)
        return self.compute_in_turn(lambda: learn(prepared).after)

    def _candidates(self, bench: Bench) -> list[str]:
        places = [place for group in self.offer().values() for place in group]
        return [place for place in places if place.partition("/")[2] == bench.name]


def _prepare(bench: Bench, job: Job) -> PreparedBench:
    """Build a bench's fields, and load the compiled code that flies electrons through them."""
    prepared = prepare(bench, progress=job.note)
    job.note(1.0, "getting the first beam ready, which takes longer the very first time")
    prepared.picture(opening_settings(bench), electrons=8)
    return prepared
