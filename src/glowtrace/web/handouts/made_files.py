"""Files that visitors have had made, each under a secret address, until their page is gone."""

from __future__ import annotations

import secrets
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from nicegui import app
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from glowtrace.web.served import served

PATH: Final = "/glowtrace-made"


@dataclass(frozen=True)
class MadeFile:
    """A file that was made: where it lies, and the name that it is saved under."""

    path: Path
    name: str


class MadeFiles:
    """All that were made; the folder goes when the server ends."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="glowtrace-made-")
        self._held: dict[str, MadeFile] = {}
        app.add_route(f"{PATH}/{{key}}/{{name}}", self._serve)
        app.on_shutdown(self._folder.cleanup)

    def place(self, ending: str) -> Path:
        """Give a new place to write a file to."""
        return Path(self._folder.name, secrets.token_hex(12) + ending)

    def hold(self, path: Path, name: str) -> str:
        """Offer a file under a name and give its address."""
        key = secrets.token_urlsafe(16)
        self._held[key] = MadeFile(path, name)
        return f"{PATH}/{key}/{name}"

    def drop(self, address: str) -> None:
        """Forget a file, and delete it."""
        held = self._held.pop(address.split("/")[2], None)
        if held is not None:
            held.path.unlink(missing_ok=True)

    async def _serve(self, request: Request) -> Response:
        held = self._held.get(request.path_params["key"])
        if held is None or held.name != request.path_params["name"]:
            return PlainTextResponse("This file is gone; have it made again.", 404)
        return served(request, held.name, held.path)
