"""Photographs on their way from the browser and back, by addresses of their own."""

from __future__ import annotations

import asyncio
import io
import secrets
from dataclasses import dataclass
from typing import Final

from nicegui import app
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from glowtrace.errors import GlowtraceError
from glowtrace.photographs.photograph import MOST_BYTES, Photograph, load_photograph
from glowtrace.store.attaching import Attachment
from glowtrace.web.served import served

PATH: Final = "/glowtrace-photograph"
_LARGEST_SIDE: Final = 2400
FOR_PHONES: Final = 1600
"""Pixels along the longer side of a photograph that a class reads on phones."""
_MEDIA: Final = {"JPEG": "image/jpeg", "PNG": "image/png", "HEIC": "image/heic"}
_ENDINGS: Final = {"JPEG": "jpg", "PNG": "png", "HEIC": "heic"}


@dataclass(frozen=True, eq=False)
class Received:
    """A photograph with its file, and how it looks on the page."""

    photograph: Photograph
    content: bytes
    preview: bytes
    """JPEG, upright, at most `_LARGEST_SIDE` pixels along a side."""
    is_invented: bool = False

    @property
    def attachment(self) -> Attachment:
        """The file, for the logbook."""
        kind = self.photograph.format
        return Attachment(f"photograph.{_ENDINGS[kind]}", _MEDIA[kind], self.content)


def receive(content: bytes, *, is_invented: bool = False) -> Received:
    """Read the content of a file; a PhotographError says what is wrong with it."""
    photograph = load_photograph(content, name="the photograph")
    return Received(photograph, content, preview_of(photograph), is_invented)


def preview_of(photograph: Photograph, side: int = _LARGEST_SIDE, quality: int = 90) -> bytes:
    """Give a photograph as a JPEG that every browser shows, at most so many pixels along a side.

    Nothing that the camera wrote into the file is in it.
    """
    from PIL import Image

    image = Image.fromarray(photograph.pixels)
    image.thumbnail((side, side))
    return _jpeg(image, quality)


def jpeg_of(photograph: Photograph) -> bytes:
    """Give a photograph as a JPEG of full size."""
    from PIL import Image

    return _jpeg(Image.fromarray(photograph.pixels), 95)


def _jpeg(image: object, quality: int) -> bytes:
    file = io.BytesIO()
    image.save(file, "JPEG", quality=quality)  # type: ignore[attr-defined]
    return file.getvalue()


class PhotographFiles:
    """The photographs that visitors have open now, each under a secret key of its page."""

    def __init__(self) -> None:
        self._held: dict[str, Received | None] = {}
        app.add_route(f"{PATH}/{{key}}", self._serve, methods=["GET", "POST"])

    def new_key(self) -> str:
        """Give the key of a page that may send one photograph at a time."""
        key = secrets.token_urlsafe(16)
        self._held[key] = None
        return key

    def get(self, key: str) -> Received | None:
        """Give the photograph of a page, if it has one."""
        return self._held.get(key)

    def put(self, key: str, received: Received | None) -> None:
        """Keep a photograph for a page, or none any more."""
        self._held[key] = received

    def drop(self, key: str) -> None:
        """Forget a page with its photograph."""
        self._held.pop(key, None)

    async def _serve(self, request: Request) -> Response:
        key = request.path_params["key"]
        if key not in self._held:
            return PlainTextResponse("This page is gone; reload it.", 404)
        if request.method == "POST":
            return await self._take(key, request)
        held = self._held[key]
        if held is None:
            return PlainTextResponse("There is no photograph yet.", 404)
        return served(request, "photograph.jpg", held.preview)

    async def _take(self, key: str, request: Request) -> Response:
        content = bytearray()
        async for part in request.stream():
            content += part
            if len(content) > MOST_BYTES:
                reason = f"The photograph is too large; give at most {MOST_BYTES // 10**6} MB."
                return PlainTextResponse(reason, 413)
        try:
            self._held[key] = await asyncio.to_thread(receive, bytes(content))
        except GlowtraceError as error:
            return PlainTextResponse(str(error), 400)
        return PlainTextResponse("")
