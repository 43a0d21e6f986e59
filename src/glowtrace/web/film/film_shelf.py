"""Films that visitors have opened, each in a folder of the data folder with its description.

A film that was sent lies there as it came; of one that was told by its path there is no copy. What
is made of it lies beside.
"""

from __future__ import annotations

import asyncio
import io
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Final, NamedTuple
from urllib.parse import unquote

from nicegui import app
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response

from glowtrace.disk import write_whole
from glowtrace.errors import GlowtraceError
from glowtrace.films.film_file import FilmError, open_film
from glowtrace.report.films.description import FilmDescription
from glowtrace.report.films.description_file import description_to_toml, load_description
from glowtrace.store.location import data_folder
from glowtrace.web.served import MEDIA, served

PATH: Final = "/glowtrace-film"
DESCRIPTION: Final = "film.toml"
FILM: Final = "annotated.mp4"
TABLES: Final = ("line.csv", "line.parquet")
MADE: Final = "made"
"""Folder of what was made."""
_KEY: Final = re.compile(r"[0-9a-f]{24}")
_ENDINGS: Final = (".mp4", ".mov", ".m4v", ".mkv", ".webm", ".avi")
_PIECE: Final = 4_000_000
"""Bytes that are written together."""
_LEFT: Final = 500_000_000
"""Bytes that stay free on the disk."""


class Shelved(NamedTuple):
    """A film that was opened before."""

    key: str
    description: FilmDescription

    @property
    def name(self) -> str:
        """Of the film's file."""
        return Path(self.description.film).name


class FilmShelf:
    """All of them; serves what was made, and takes films that are sent."""

    def __init__(self) -> None:
        self._folder = data_folder() / "films"
        app.add_route(PATH, self._take, methods=["POST"])
        app.add_route(f"{PATH}/{{key}}/{{name}}", self._serve)

    def folder(self, key: str) -> Path:
        """Give the folder of a film; FilmError where there is none."""
        place = self._folder / key
        if not _KEY.fullmatch(key) or not place.is_dir():
            raise FilmError("this film is not kept any more: open it again")
        return place

    def open_path(self, path: Path, described: FilmDescription) -> str:
        """Open a film where it lies, and give its key; FilmError where it is none."""
        if not path.is_absolute():
            raise FilmError(f'"{path}" is no whole path: give one that begins at the root')
        open_film(path)
        key = self._new()
        self.keep(key, described.model_copy(update={"film": str(path)}))
        return key

    def load(self, key: str) -> FilmDescription | None:
        """Give the description of a film; None for one that was just sent.

        Raises
        ------
        FilmError
            The film is not kept any more.
        BenchError
            The description is damaged.
        """
        place = self.folder(key) / DESCRIPTION
        return load_description(place) if place.exists() else None

    def keep(self, key: str, description: FilmDescription) -> None:
        """Keep the description of a film."""
        place = self.folder(key) / DESCRIPTION
        write_whole(place, description_to_toml(description).encode())

    def sent(self, key: str) -> Path:
        """Give the film that was sent; FilmError where there is none."""
        for each in self.folder(key).iterdir():
            if each.suffix.lower() in _ENDINGS:
                return each
        raise FilmError("this film is not kept any more: open it again")

    def remove(self, key: str) -> None:
        """Remove a film with all that was made of it; one told by its path stays where it is."""
        shutil.rmtree(self.folder(key), ignore_errors=True)

    def films(self) -> Iterator[Shelved]:
        """Give the films that were opened, the last one first."""
        places = []
        for each in self._folder.glob(f"*/{DESCRIPTION}"):
            with suppress(OSError):
                places.append((each.stat().st_mtime, each.parent.name))
        for _, key in sorted(places, reverse=True):
            with suppress(GlowtraceError):
                described = self.load(key)
                if described is not None:
                    yield Shelved(key, described)

    def _new(self) -> str:
        key = secrets.token_hex(12)
        (self._folder / key).mkdir(parents=True)
        return key

    async def _take(self, request: Request) -> Response:
        """Take a film that is sent, a piece at a time: it is never whole in memory."""
        name = Path(unquote(request.query_params.get("name", ""))).name
        name = re.sub(r"[^\w .()-]+", "-", name)[-80:].lstrip(".")
        if Path(name).suffix.lower() not in _ENDINGS:
            return PlainTextResponse(f"Choose a film: {', '.join(_ENDINGS)}.", 400)
        size = int(request.headers.get("content-length", 0))
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            if size > shutil.disk_usage(self._folder).free - _LEFT:
                reason = f"The disk has no room for a film of {size / 1e9:.1f} GB: give its path."
                return PlainTextResponse(reason, 413)
            key = self._new()
            place = self._folder / key / name
            await _write(request, place)
            await asyncio.to_thread(open_film, place)
        except GlowtraceError as error:
            self.remove(key)
            return PlainTextResponse(str(error), 400)
        except ClientDisconnect:
            self.remove(key)
            return PlainTextResponse("The film was not sent whole.", 400)
        except OSError as error:
            return PlainTextResponse(f"The film cannot be kept: {error.strerror}.", 507)
        return PlainTextResponse(key)

    async def _serve(self, request: Request) -> Response:
        key, name = request.path_params["key"], Path(request.path_params["name"]).name
        try:
            place = self.folder(key)
        except FilmError as error:
            return PlainTextResponse(str(error), 404)
        made = place / DESCRIPTION if name == DESCRIPTION else place / MADE / name
        if not made.is_file() or made.suffix not in MEDIA:
            return PlainTextResponse("This file is gone; have it made again.", 404)
        return served(request, name, made)


async def _write(request: Request, place: Path) -> None:
    with place.open("xb") as file:
        waiting = io.BytesIO()
        async for part in request.stream():
            waiting.write(part)
            if waiting.tell() >= _PIECE:
                await asyncio.to_thread(file.write, waiting.getvalue())
                waiting = io.BytesIO()
        file.write(waiting.getvalue())
