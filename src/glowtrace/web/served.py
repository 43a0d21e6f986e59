"""Files that the page serves: their kind and name, and what is answered when there are none."""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable
from functools import wraps
from pathlib import Path
from typing import Final

from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response

from glowtrace.errors import GlowtraceError

SAVE: Final = "save"
"""In the query of an address: the browser saves the file under its name, and does not show it."""
MEDIA: Final = {
    ".csv": "text/csv; charset=utf-8",
    ".gif": "image/gif",
    ".jpg": "image/jpeg",
    ".json": "application/json",
    ".md": "text/markdown; charset=utf-8",
    ".mp4": "video/mp4",
    ".parquet": "application/vnd.apache.parquet",
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".toml": "application/toml",
    ".vtt": "text/vtt; charset=utf-8",
    ".zip": "application/zip",
}
Serve = Callable[[Request], Awaitable[Response]]


def served(request: Request, name: str, content: bytes | str | Path) -> Response:
    """Answer with a file, to be shown or saved as the address wants it; nothing keeps a copy."""
    media = MEDIA[Path(name).suffix]
    how = "attachment" if SAVE in request.query_params else "inline"
    headers = {"Cache-Control": "no-store", "Content-Disposition": f'{how}; filename="{name}"'}
    if isinstance(content, Path):
        return FileResponse(content, media_type=media, headers=headers)
    return Response(content, media_type=media, headers=headers)


def telling(serve: Serve) -> Serve:
    """Answer with the words of an error where there is one."""

    @wraps(serve)
    async def answer(request: Request) -> Response:
        try:
            return await serve(request)
        except GlowtraceError as error:
            return PlainTextResponse(str(error), 400)

    return answer


def file_name(*parts: str) -> str:
    """Give a name for a file from some words: small letters, figures and dashes."""
    name = re.sub(r"[^A-Za-z0-9]+", "-", " ".join(parts)).strip("-").lower()
    return name[:80] or "glowtrace"
