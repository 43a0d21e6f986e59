"""A phone as remote: next, back and blank, and nothing else of the desk.

Whoever holds the address can press; it carries a code that cannot be guessed, of its own and not
that of the learners.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Final, Literal, get_args

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import BaseRoute, Mount, Route

from glowtrace.web.audience.audience import Audience
from glowtrace.web.audience.feed import POLICY, audience_app

Press = Literal["next", "back", "blank"]
PRESSES: Final[tuple[Press, ...]] = get_args(Press)
CODE_BYTES: Final = 12
"""96 bits: guessing at a thousand tries a second finds none in the age of the universe."""
_PAGE: Final = Path(__file__).parent / "static"
_FILES: Final = ("remote.js", "remote.css")


class Remote:
    """What a remote presses, for whoever steps through a lesson."""

    def __init__(self, audience: Audience) -> None:
        self._audience = audience
        self._listeners: list[Callable[[Press], None]] = []

    def listen(self, call: Callable[[Press], None]) -> Callable[[], None]:
        """Have something called with "next" and "back"; the answer ends it."""
        self._listeners.append(call)
        return lambda: self._listeners.remove(call)

    def press(self, what: Press) -> None:
        """Do what was pressed; only the newest listener steps, so that no step is taken twice."""
        if what == "blank":
            self._audience.blank(not self._audience.manner.is_blank)
        elif self._listeners:
            self._listeners[-1](what)


def remote_app(remote: Remote) -> Starlette:
    """Give the app of the remote's page, for any path that ends in a slash."""

    async def page(_: Request) -> Response:
        return FileResponse(_PAGE / "remote.html", headers={"Content-Security-Policy": POLICY})

    async def file(request: Request) -> Response:
        name = request.path_params["name"]
        return FileResponse(_PAGE / name) if name in _FILES else Response(status_code=404)

    async def press(request: Request) -> Response:
        wanted = request.path_params["what"]
        for what in PRESSES:
            if what == wanted:
                remote.press(what)
                return Response(status_code=204)
        return Response(status_code=404)

    return Starlette(
        routes=[
            Route("/", page),
            Route("/page/{name}", file),
            Route("/press/{what}", press, methods=["POST"]),
        ]
    )


class SideDoors:
    """Ways in beside the learners': the picture for another computer, and the remote.

    Attributes
    ----------
    remote
        What the remote presses.
    screen_path, remote_path
        Paths under the learners' address, each with a code of its own.
    """

    def __init__(self, audience: Audience) -> None:
        self.remote = Remote(audience)
        self.screen_path, self.remote_path = (
            f"/{kind}/{secrets.token_urlsafe(CODE_BYTES)}/" for kind in ("screen", "remote")
        )
        self._screen = audience_app(audience, commands=False)
        self._remote = remote_app(self.remote)

    def routes(self) -> tuple[BaseRoute, ...]:
        """Give the routes for the learners' server."""
        return (
            Mount(self.screen_path.rstrip("/"), self._screen),
            Mount(self.remote_path.rstrip("/"), self._remote),
        )
