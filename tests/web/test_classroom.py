"""The room's one lesson at a time: its port, its code, and the end of the one before.

No outside source: the rules are those of docs/lesson.md.
"""

from __future__ import annotations

import asyncio
from pathlib import Path

import httpx

from glowtrace.bench.ready_made import ready_made
from glowtrace.store import open_store
from glowtrace.web.lesson.classroom import Classroom
from glowtrace.web.rack import Rack

BENCH = ready_made("deflection tube")


def test_a_lesson_opened_while_the_last_one_ends_has_its_port(tmp_path: Path) -> None:
    async def hold(room: Classroom) -> tuple[str, str, dict[str, int]]:
        await room.open("First", BENCH, takes_nicknames=False)
        assert room.live is not None
        address, first = room.address, room.live.kept.code
        await asyncio.gather(room.close(), room.open("Second", BENCH, takes_nicknames=False))
        assert room.live is not None
        assert room.address == address
        async with httpx.AsyncClient(trust_env=False) as phone:
            told = {
                code: (await phone.get(f"{address}/{code}/state")).status_code
                for code in (first, room.live.kept.code)
            }
        codes = first, room.live.kept.code
        await room.shut_down()
        return *codes, told

    with open_store(tmp_path / "s.sqlite") as store:
        first, second, told = asyncio.run(hold(Classroom(Rack(store), lambda _: None)))
    assert told == {first: 404, second: 200}
