"""A program that serves a lesson alone, to be killed: lesson_server.py DATABASE PORT.

It takes up the lesson that is kept there, or begins one with the code K7M2QX.
"""

from __future__ import annotations

import asyncio
import sys
from datetime import timedelta
from pathlib import Path

from glowtrace.bench.files import bench_to_toml
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.lesson.asking import prediction
from glowtrace.lesson.live import LiveLesson
from glowtrace.store import open_store
from glowtrace.web.learners.app import learners_app
from glowtrace.web.learners.server import LearnersServer

CODE = "K7M2QX"


async def serve(database: Path, port: int) -> None:
    store = open_store(database)
    bench = ready_made("deflection tube")
    kept = store.lessons.list()
    if not kept:
        text = bench_to_toml(bench)
        kept = (store.lessons.add("Try", CODE, text, lasts=timedelta(hours=9)),)
    live = LiveLesson(store.lessons, kept[0])
    if not live.questions:
        settings = Settings(accelerating_voltage=3000.0, coil_current=0.3)
        live.ask(prediction(bench.plane, settings))
    server = LearnersServer()
    await server.start(learners_app(live), to_room=False, port=port)
    assert server.port == port
    print("ready", flush=True)
    await asyncio.Event().wait()


if __name__ == "__main__":
    asyncio.run(serve(Path(sys.argv[1]), int(sys.argv[2])))
