"""The script's window: what is said in each shot, large, on a second screen, scrolled by key."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from nicegui import app
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from glowtrace.report.shot_lists.content import ShotList
from glowtrace.web.audience.feed import POLICY

WINDOW: Final = "/script/"
SCRIPT: Final = "/glowtrace-script.json"
_WEB: Final = Path(__file__).parents[1]
_PAGE: Final = Path(__file__).parent / "script"


def script_of(shots: ShotList) -> list[dict[str, Any]]:
    """Give what the window shows of each shot, in the order of filming."""
    return [
        {
            "number": shot.number,
            "do": shot.do,
            "say": shot.script,
            "hold": shot.hold,
            "knobs": [f"{knob.name} {knob.value}" for knob in shot.knobs],
            "mind": shot.after[0] if shot.needs_discharge else "",
        }
        for shot in shots.shots
    ]


def serve_script_window() -> None:
    """Serve the window: plain files, which ask for the script of their own address."""

    async def page(_: Request) -> Response:
        return FileResponse(_PAGE / "script.html", headers={"Content-Security-Policy": POLICY})

    app.mount(
        WINDOW.rstrip("/"),
        Starlette(
            routes=[
                Route("/", page),
                Mount("/fonts", StaticFiles(directory=_WEB / "static" / "fonts")),
                Mount("/page", StaticFiles(directory=_PAGE)),
            ]
        ),
    )
