"""A lesson as files: everything as data, and the answers as a table."""

from __future__ import annotations

import json
from typing import Final

from nicegui import app
from starlette.requests import Request
from starlette.responses import Response

from glowtrace.errors import StoreError
from glowtrace.lesson.export import lesson_data, lesson_table
from glowtrace.web.rack import Rack
from glowtrace.web.served import file_name, served, telling

JSON_FILE: Final = "/glowtrace-lesson.json"
TABLE_FILE: Final = "/glowtrace-lesson.csv"


def serve_lesson_files(rack: Rack) -> None:
    """Serve the lesson that an address tells."""

    @telling
    async def serve(request: Request) -> Response:
        if rack.store is None:
            raise StoreError("No lesson is kept: the database could not be opened.")
        lessons = rack.store.lessons
        kept = lessons.open(request.query_params.get("id", ""))
        name = file_name(kept.title, f"{kept.opened:%Y-%m-%d}")
        if request.url.path == TABLE_FILE:
            return served(request, f"{name}.csv", lesson_table(lessons, kept))
        data = json.dumps(lesson_data(lessons, kept), indent=1, ensure_ascii=False)
        return served(request, f"{name}.json", data)

    app.add_route(JSON_FILE, serve)
    app.add_route(TABLE_FILE, serve)
