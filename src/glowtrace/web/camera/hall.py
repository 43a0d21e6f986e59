"""A camera's pictures on their way to the audience's windows, with the lines drawn over them.

The page of the camera sends what it shows, by a websocket of its own; the newest picture counts.
Nothing of them is kept.
"""

from __future__ import annotations

import asyncio
import base64
from contextlib import suppress
from typing import Final

from starlette.routing import WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from glowtrace.web.audience.audience import Audience
from glowtrace.web.camera.feed import MOST_BYTES

HALL: Final = "/glowtrace-camera-hall"
SILENT_S: Final = 2.0
"""Without a picture a camera stands still, or its page lies behind another: what is computed is
shown again, as an old picture would look like a live one."""
_JPEG: Final = b"\xff\xd8\xff"


def hall_route(audience: Audience) -> WebSocketRoute:
    """Give the way by which pages show their cameras; the audience knows which of them counts."""

    async def take(socket: WebSocket) -> None:
        await socket.accept()
        page = socket.query_params.get("page", "")
        try:
            await _take_pictures(socket, audience, page)
        except (WebSocketDisconnect, RuntimeError, ValueError, KeyError):
            pass  # gone, or not one of our pages
        finally:
            audience.put_camera(page, None)
            with suppress(RuntimeError, WebSocketDisconnect):
                await socket.close()

    return WebSocketRoute(HALL, take)


async def _take_pictures(socket: WebSocket, audience: Audience, page: str) -> None:
    """Show pictures until the page is gone; ValueError for what is no picture of our pages."""
    arriving = asyncio.ensure_future(socket.receive_bytes())
    try:
        while True:
            await asyncio.wait([arriving], timeout=SILENT_S)
            if not arriving.done():
                audience.put_camera(page, None)
            picture = await arriving
            if len(picture) > MOST_BYTES or not picture.startswith(_JPEG):
                raise ValueError("no picture")
            text = base64.b64encode(picture).decode("ascii")
            audience.put_camera(page, f"data:image/jpeg;base64,{text}")
            arriving = asyncio.ensure_future(socket.receive_bytes())
    finally:
        arriving.cancel()
