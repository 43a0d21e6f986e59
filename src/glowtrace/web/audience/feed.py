"""The audience's page and its feed: plain files and one websocket, no client of the page's kind.

Everything is reached by relative addresses, so that the same app can stand under any path of any
server.
"""

from __future__ import annotations

import asyncio
import json
import math
import time
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket, WebSocketDisconnect

from glowtrace.web.audience.audience import Audience, Window

APART_S: Final = 0.05
"""Between two pictures of a turning knob: twenty a second look steady, and more would take the
processor from the desk, which draws on the same computer."""
DRAWN_S: Final = 1.0
"""How long a window may take to draw before it is sent the next part all the same."""
LONGEST_MESSAGE: Final = 200
"""Characters that a window may send at once."""
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; font-src 'self'; "
    "img-src 'self' data:; connect-src 'self'; frame-ancestors 'none'; base-uri 'none'"
)
_WEB: Final = Path(__file__).parents[1]
_PAGE: Final = Path(__file__).parent / "static"


def audience_app(audience: Audience, *, commands: bool) -> Starlette:
    """Give the app of the audience's page, for any path that ends in a slash.

    Parameters
    ----------
    audience
        What its windows show.
    commands
        Whether keys in a window may blank the picture and let it stand still.
    """

    async def page(_: Request) -> Response:
        return FileResponse(_PAGE / "audience.html", headers={"Content-Security-Policy": POLICY})

    async def feed(socket: WebSocket) -> None:
        await socket.accept()
        window = audience.join()
        sending = asyncio.create_task(_send(socket, audience, window))
        try:
            while True:
                _hear(await socket.receive_text(), audience, window, commands=commands)
        except (WebSocketDisconnect, KeyError, ValueError):
            pass  # gone, or not one of our pages
        finally:
            sending.cancel()
            audience.leave(window)
            with suppress(RuntimeError, WebSocketDisconnect):  # closed already, or gone
                await socket.close()

    return Starlette(
        routes=[
            Route("/", page),
            WebSocketRoute("/feed", feed),
            Mount("/drawing", StaticFiles(directory=_WEB / "drawing")),
            Mount("/fonts", StaticFiles(directory=_WEB / "static" / "fonts")),
            Mount("/page", StaticFiles(directory=_PAGE)),
        ]
    )


async def _send(socket: WebSocket, audience: Audience, window: Window) -> None:
    """Send what is new, always the newest, never more than one message ahead of the drawing."""
    last = -math.inf
    while True:
        await window.changed.wait()
        await pause(audience, window, last + APART_S)
        new = window.take(audience.parts())
        if not new:
            continue
        window.drawn.clear()
        last = time.monotonic()
        await socket.send_text(json.dumps(new, separators=(",", ":")))
        with suppress(TimeoutError):  # a hidden window draws nothing
            await asyncio.wait_for(window.drawn.wait(), DRAWN_S)


async def pause(audience: Audience, window: Window, until: float) -> None:
    """Wait until a time of the monotonic clock, but not with a picture that stays."""
    while audience.is_turning and (left := until - time.monotonic()) > 0.0:
        window.changed.clear()
        with suppress(TimeoutError):
            await asyncio.wait_for(window.changed.wait(), left)


def _hear(text: str, audience: Audience, window: Window, *, commands: bool) -> None:
    """Take a message of a window; ValueError where no page of ours would send it."""
    if len(text) > LONGEST_MESSAGE:
        raise ValueError("too long")
    told: Any = json.loads(text)
    if not isinstance(told, dict):
        raise ValueError("not an object")
    if "drawn" in told:
        window.drawn.set()
    letter = told.get("letter")
    if isinstance(letter, int | float) and math.isfinite(letter) and 0.0 < letter < 1.0:
        audience.note_letter(window, float(letter))
    if commands and told.get("do") == "blank":
        audience.blank(not audience.manner.is_blank)
    if commands and told.get("do") == "hold":
        audience.hold(not audience.is_held)
