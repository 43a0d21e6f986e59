"""One picture at a time, always of the newest settings, and a fine one once the knobs rest.

Expected behaviour is this project's own rule (DESIGN: never more than one update pending); the
clock is that of asyncio.
"""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress

from glowtrace.web.refresh import Refresh, Request


def test_many_turns_during_a_picture_leave_one_more_and_then_a_resting_one() -> None:
    served: list[Request] = []
    at_once = 0

    async def draw(request: Request) -> None:
        nonlocal at_once
        at_once += 1
        assert at_once == 1
        served.append(request)
        await asyncio.sleep(0.02)
        at_once -= 1

    async def play() -> None:
        refresh = Refresh(draw, rest_s=0.05)
        task = asyncio.create_task(refresh.run())
        refresh.ask(1.0)
        await asyncio.sleep(0.005)
        for stamp in range(2, 40):
            refresh.ask(float(stamp))
        await asyncio.sleep(0.2)
        assert refresh.newest == 39
        await _end(task)

    _run(play())
    assert [(r.stamp, r.resting) for r in served] == [(1.0, False), (39.0, False), (39.0, True)]


def test_nothing_is_drawn_unasked_and_a_rest_comes_once() -> None:
    served: list[Request] = []

    async def draw(request: Request) -> None:
        served.append(request)

    async def play() -> None:
        refresh = Refresh(draw, rest_s=0.01)
        task = asyncio.create_task(refresh.run())
        await asyncio.sleep(0.05)
        assert served == []
        refresh.ask()
        await asyncio.sleep(0.1)
        await _end(task)

    _run(play())
    assert [request.resting for request in served] == [False, True]


def _run(play: Coroutine[None, None, None]) -> None:
    """Run in a thread of its own: in this one, a browser's event loop may be running."""
    with ThreadPoolExecutor(max_workers=1) as thread:
        thread.submit(asyncio.run, play).result(timeout=30)


async def _end(task: asyncio.Task[None]) -> None:
    task.cancel()
    with suppress(asyncio.CancelledError):
        await task
