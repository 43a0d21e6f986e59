"""The logbook as a file, and its photographs, by addresses of their own."""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Final

from nicegui import app
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from glowtrace.errors import GlowtraceError, StoreError
from glowtrace.photographs.photograph import load_photograph
from glowtrace.store import Exported, Store
from glowtrace.web.measure.photograph_files import preview_of
from glowtrace.web.rack import Rack
from glowtrace.web.served import served, telling

WHOLE: Final = "/glowtrace-logbook"
EVERYTHING: Final = "everything"
"""In its address: a backup, with saved benches and settings and lessons."""
PHOTOGRAPH: Final = "/glowtrace-logbook-photograph"
LARGEST: Final = 1_000_000_000
"""Bytes of a logbook file that is sent to the page."""


def serve_logbook_files(rack: Rack) -> None:
    """Serve the logbook or everything as one file, take one in, and serve its photographs."""

    @telling
    async def serve_whole(request: Request) -> Response:
        if request.method == "POST":
            return PlainTextResponse(await _take_in(rack.kept, request))
        is_backup = EVERYTHING in request.query_params
        kind = "backup" if is_backup else "logbook"
        write = rack.kept.backup_to if is_backup else rack.kept.logbook.export_to
        content = await asyncio.to_thread(_written, write)
        return served(request, f"glowtrace-{kind}-{date.today():%Y-%m-%d}.zip", content)

    @telling
    async def serve_photograph(request: Request) -> Response:
        shown = await asyncio.to_thread(_preview, rack.kept, request.path_params["checksum"])
        return served(request, "photograph.jpg", shown)

    app.add_route(WHOLE, serve_whole, methods=["GET", "POST"])
    app.add_route(f"{PHOTOGRAPH}/{{checksum}}", serve_photograph)


def _written(write: Callable[[Path], Exported]) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "logbook.zip"
        write(path)
        return path.read_bytes()


async def _take_in(store: Store, request: Request) -> str:
    """Add what the sent file holds, and say how much that was."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "logbook.zip"
        size = 0
        with path.open("wb") as file:
            async for part in request.stream():
                size += len(part)
                if size > LARGEST:
                    raise GlowtraceError(
                        f"The file is too large; give at most {LARGEST // 10**6} MB."
                    )
                file.write(part)
        try:
            added = await asyncio.to_thread(store.logbook.import_from, path)
        except StoreError as error:  # whoever sent it knows it by another name
            raise StoreError(str(error).replace(f"The logbook file {path}", "The file")) from error
    return (
        f"Taken in: {added.entries} new entries, {added.attachments} attachments and "
        f"{added.lessons} lessons; "
        f"{added.skipped} versions were here already."
    )


def _preview(store: Store, checksum: str) -> bytes:
    return preview_of(load_photograph(store.logbook.attachment(checksum).data))
