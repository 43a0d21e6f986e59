"""The learners' server: a second one in the page's own event loop, on a port of its own."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Final

import uvicorn
from starlette.types import ASGIApp

from glowtrace.errors import PageError
from glowtrace.web.guard import Guard, own_hosts

LOOPBACK, EVERYBODY = "127.0.0.1", "0.0.0.0"
FIRST_PORT: Final = 8600
PORTS_TRIED: Final = 40
LARGEST_MESSAGE: Final = 8192


class _Beside(uvicorn.Server):
    """A server beside another one, which alone listens to Ctrl + C."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


class LearnersServer:
    """Serves an application until it is stopped.

    Attributes
    ----------
    host, port
        Where it listens: this computer alone, or all its networks.
    """

    def __init__(self) -> None:
        self.host, self.port = LOOPBACK, 0
        self._server: _Beside | None = None
        self._task: asyncio.Task[None] | None = None

    @property
    def is_open_to_room(self) -> bool:
        """Whether others than this computer can reach it."""
        return self._task is not None and self.host != LOOPBACK

    async def start(self, app: ASGIApp, *, to_room: bool, port: int = 0) -> None:
        """Serve from now on; on the port that is given, else on the first free one.

        Raises
        ------
        PageError
            No port is free.
        """
        await self.stop()
        self.host = EVERYBODY if to_room else LOOPBACK
        listening = _listening(self.host, port)
        self.port = listening.getsockname()[1]
        guarded = Guard(app, own_hosts(self.host, self.port))
        config = uvicorn.Config(
            guarded,
            log_level="warning",
            access_log=False,
            lifespan="off",
            ws="websockets-sansio",
            ws_max_size=LARGEST_MESSAGE,
            ws_max_queue=4,
            h11_max_incomplete_event_size=16_384,
            timeout_keep_alive=15,
            backlog=512,
            server_header=False,
        )
        self._server = _Beside(config)
        self._task = asyncio.create_task(self._server.serve(sockets=[listening]))
        while not (self._server.started or self._task.done()):
            await asyncio.sleep(0.005)

    async def stop(self) -> None:
        """End it, and all that is connected."""
        if self._server is None or self._task is None:
            return
        self._server.should_exit = self._server.force_exit = True
        with suppress(asyncio.CancelledError):
            await self._task
        self._server = self._task = None


def _listening(host: str, wanted: int) -> socket.socket:
    """Give a socket that listens on the port that is wanted where it is free, or on another."""
    ports = [wanted] if wanted else []
    for port in (*ports, *range(FIRST_PORT, FIRST_PORT + PORTS_TRIED)):
        listening = socket.socket()
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((host, port))
        except OSError:
            listening.close()
            continue
        listening.setblocking(False)
        return listening
    raise PageError(
        f"No port of {host} from {FIRST_PORT} to {FIRST_PORT + PORTS_TRIED - 1} is free for the "
        "learners; close a program that uses one."
    )
