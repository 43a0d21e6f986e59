"""Pictures of a live camera on their way to be read, by a websocket of their own.

The page sends a picture when an older one was answered; they go to a process of its own, are read
there and forgotten. Nothing of them is kept or leaves this computer.
"""

from __future__ import annotations

import asyncio
import json
import math
import multiprocessing
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any, Final

from nicegui import app
from starlette.routing import WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from glowtrace.bench.screen_plane import Shows
from glowtrace.errors import GlowtraceError
from glowtrace.photographs.grid_lines import PrintedGrid, printed_grid
from glowtrace.web.camera.reading import CLICKS, serve_reading
from glowtrace.web.rack import Rack

FEED: Final = "/glowtrace-camera"
MOST_BYTES: Final = 3_000_000
"""Of a picture."""
LONGEST_MESSAGE: Final = 300
"""Characters of a wish."""
_FARTHEST: Final = 1e5


class CameraFeed:
    """Reads the pictures of one camera at a time, for all visitors."""

    def __init__(self, rack: Rack) -> None:
        self._rack = rack
        self._turn = asyncio.Lock()
        app.router.routes.append(WebSocketRoute(FEED, self._serve))

    async def _serve(self, socket: WebSocket) -> None:
        await socket.accept()
        with suppress(WebSocketDisconnect, RuntimeError):  # gone
            try:
                bench = self._rack.bench(socket.query_params.get("bench", ""))
            except GlowtraceError as error:
                await _refuse(socket, str(error))
                return
            if self._turn.locked():
                await _refuse(socket, "Another page reads a camera now: close it first.")
                return
            async with self._turn:
                await _read(socket, printed_grid(bench), bench.plane.shows)


async def _read(socket: WebSocket, grid: PrintedGrid, shows: Shows) -> None:
    context = multiprocessing.get_context("spawn")  # the page has threads: no fork
    here, there = context.Pipe()
    process = context.Process(target=serve_reading, args=(grid, shows, there), daemon=True)
    await asyncio.to_thread(process.start)
    there.close()
    try:
        await socket.send_text(json.dumps(await asyncio.to_thread(here.recv)))
        while True:
            message = await socket.receive()
            if message["type"] == "websocket.disconnect":
                return
            answer = await _answer(message, here)
            if answer is not None:
                await socket.send_text(json.dumps(answer, separators=(",", ":")))
    except (EOFError, BrokenPipeError):
        await _refuse(socket, "Reading the camera ended: start it again.")
    except ValueError:
        await _refuse(socket, "This is no picture of the page.")
    finally:
        process.kill()
        here.close()


async def _answer(message: Any, connection: Connection) -> Any:
    """Have a picture read, or pass on a wish; ValueError where no page of ours would send it."""
    picture = message.get("bytes")
    if picture is not None:
        if not 0 < len(picture) <= MOST_BYTES:
            raise ValueError("too large")
        return await asyncio.to_thread(_asked, connection, picture)
    connection.send(wish_of(message.get("text") or ""))
    return None


def wish_of(text: str) -> tuple[str, list[tuple[float, float]]]:
    """Read a wish; ValueError where no page of ours would send it.

    Examples
    --------
    >>> wish_of('{"do": "find"}')
    ('find', [])
    """
    if len(text) > LONGEST_MESSAGE:
        raise ValueError("too long")
    told = json.loads(text)
    if not isinstance(told, dict) or told.get("do") not in (
        "find",
        "forget",
        "line",
        "curve",
        "clicks",
    ):
        raise ValueError("no wish")
    if told["do"] != "clicks":
        return str(told["do"]), []
    try:
        clicks = [(float(column), float(row)) for column, row in told["clicks"]]
    except (KeyError, TypeError):
        raise ValueError("no clicks") from None
    if len(clicks) != CLICKS or not all(
        math.isfinite(each) and abs(each) < _FARTHEST for click in clicks for each in click
    ):
        raise ValueError("no four clicks")
    return "clicks", clicks


def _asked(connection: Connection, picture: bytes) -> Any:
    connection.send(("picture", picture))
    return connection.recv()


async def _refuse(socket: WebSocket, says: str) -> None:
    with suppress(WebSocketDisconnect, RuntimeError):
        await socket.send_text(json.dumps({"state": "refused", "says": says}))
        await socket.close()
