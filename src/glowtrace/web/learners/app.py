"""The learners' application: one page, a websocket, and plain requests where that does not pass.

Nothing of the desk is here. The code of the lesson is asked of everything but the page itself,
which holds nothing.
"""

from __future__ import annotations

import asyncio
import base64
import hashlib
import json
import re
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from glowtrace.errors import GlowtraceError, StoreError
from glowtrace.lesson.answer import LONGEST_MESSAGE, read_message
from glowtrace.lesson.code import is_same
from glowtrace.lesson.live import LessonOverError, LiveLesson, Wake
from glowtrace.web.learners.limits import Allowance, Guesses

WRONG_CODE, TOO_MANY, OVER = 4404, 4429, 4410
"""Codes with which a websocket is closed; 4000 to 4999 are free for applications (RFC 6455,
7.4.2). Plain requests are answered with the last three figures."""
WAIT_S: Final = 2
STILL_HERE_S: Final = 20.0
MOST_SOCKETS: Final = 1200
MOST_OF_ADDRESS: Final = 400
REFUSALS: Final = {
    WRONG_CODE: "No lesson has this code. Look at the code on the screen again.",
    TOO_MANY: "Too many tries. Wait a minute, then try again.",
    OVER: "This lesson is over.",
}


@cache
def learners_page() -> str:
    """Give the page, one file."""
    return (Path(__file__).parent / "learner.html").read_text(encoding="utf-8")


@cache
def page_policy() -> str:
    """Give the Content-Security-Policy that lets the page's own script and style run alone."""

    def own(tag: str) -> str:
        (inside,) = re.findall(rf"<{tag}>(.*?)</{tag}>", learners_page(), re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
        return f"{tag}-src 'sha256-{digest}'"

    return (
        f"default-src 'none'; {own('script')}; {own('style')}; img-src 'self'; connect-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )


class Door:
    """Lets learners in by the code, and bounds what each may send."""

    def __init__(self, live: LiveLesson) -> None:
        self.live = live
        self._guesses = Guesses()
        self._by_learner = Allowance(20, 5)
        self._by_address = Allowance(400, 200)
        self._photographs = Allowance(400, 20)
        self._sockets: dict[str, int] = {}

    def refusal(self, code: str, address: str) -> int:
        """Give why somebody is not let in; 0 where they are."""
        if self._guesses.are_used_up(address):
            return TOO_MANY
        if not is_same(self.live.kept.code, code):
            self._guesses.was_wrong(address)
            return WRONG_CODE
        self._guesses.was_right(address)
        return 0 if self.live.is_open else OVER

    def gives_photograph(self, address: str) -> bool:
        """Count a photograph that is fetched; False where an address fetches too many."""
        return self._photographs.use(address)

    def enters(self, address: str) -> bool:
        """Count a websocket in; False where there are too many."""
        here = self._sockets.get(address, 0)
        if here >= MOST_OF_ADDRESS or sum(self._sockets.values()) >= MOST_SOCKETS:
            return False
        self._sockets[address] = here + 1
        return True

    def leaves(self, address: str) -> None:
        """Count it out."""
        left = self._sockets.pop(address, 0) - 1
        if left > 0:
            self._sockets[address] = left

    async def answer(self, text: str | bytes, address: str) -> dict[str, object]:
        """Take a message and give what its learner is told.

        ``{"kept": n, "late": whether it does not count}``, ``{"no": n, "why": ...}`` for what
        will never be taken, and ``{"wait": s}`` for what is to be sent again.
        """
        if not self._by_address.use(address):  # before anything is read
            return {"wait": WAIT_S}
        try:
            message = read_message(text)
        except GlowtraceError as error:
            return {"no": _sequence_in(text), "why": str(error)}
        if not self._by_learner.use(message.learner):
            return {"wait": WAIT_S}
        try:
            counts = await self.live.take(message)
        except LessonOverError as error:
            return {"over": str(error)}
        except StoreError:
            return {"wait": WAIT_S}
        except GlowtraceError as error:
            return {"no": message.sequence, "why": str(error)}
        return {"kept": message.sequence, "late": not counts}


def learners_app(live: LiveLesson, more: tuple[BaseRoute, ...] = ()) -> Starlette:
    """Give the application for one lesson.

    Parameters
    ----------
    live
        The lesson.
    more
        Other routes on the same port, with codes of their own.
    """
    door = Door(live)

    async def page(_: Request) -> Response:
        headers = {"Cache-Control": "no-store", "Content-Security-Policy": page_policy()}
        return HTMLResponse(learners_page(), headers=headers)

    async def state(request: Request) -> Response:
        status = door.refusal(request.path_params["code"], _address(request))
        return _refused(status) if status else JSONResponse(live.for_learners, headers=_FRESH)

    async def answer(request: Request) -> Response:
        address = _address(request)
        status = door.refusal(request.path_params["code"], address)
        if status:
            return _refused(status)
        body = await _body(request)
        if body is None:
            return PlainTextResponse("This is too long.", 413)
        return JSONResponse(await door.answer(body, address), headers=_FRESH)

    async def photograph(request: Request) -> Response:
        address = _address(request)
        status = door.refusal(request.path_params["code"], address)
        if status or not door.gives_photograph(address):
            return _refused(status or TOO_MANY)
        question = live.questions.get(request.path_params["number"])
        if question is None or not question.photograph:
            return PlainTextResponse("This question has no photograph.", 404)
        headers = {"Cache-Control": "private, max-age=3600", "X-Content-Type-Options": "nosniff"}
        return Response(base64.b64decode(question.photograph), 200, headers, "image/jpeg")

    async def talk(socket: WebSocket) -> None:
        await _talk(door, socket)

    routes: list[BaseRoute] = [
        *more,
        Route("/", page),
        Route("/{code}", page),
        Route("/{code}/state", state),
        Route("/{code}/photograph/{number:int}", photograph),
        Route("/{code}/answer", answer, methods=["POST"]),
        WebSocketRoute("/{code}/talk", talk),
    ]
    return Starlette(routes=routes)


_FRESH: Final = {"Cache-Control": "no-store"}


async def _talk(door: Door, socket: WebSocket) -> None:
    """Hold one learner's websocket: what is asked goes out, answers come in one by one."""
    address = _address(socket)
    status = door.refusal(socket.path_params["code"], address)
    await socket.accept()
    if status or not door.enters(address):
        with suppress(RuntimeError, WebSocketDisconnect):
            await socket.close(status or TOO_MANY, REFUSALS[status or TOO_MANY])
        return
    learner = socket.query_params.get("learner", "")[:40]
    door.live.arrived(learner)
    wake = Wake(door.live, answers=False)
    telling = asyncio.create_task(_keep_telling(door.live, socket, wake))
    allowance = Allowance(20, 5)
    try:
        while True:
            text = await socket.receive_text()
            while not allowance.use(""):  # who floods waits: nothing more is read meanwhile
                await asyncio.sleep(0.1)
            reply = await door.answer(text, address)
            await socket.send_text(json.dumps(reply))
    except (WebSocketDisconnect, RuntimeError, KeyError):
        pass  # gone, or it sent what is no text
    finally:
        wake.stop()
        telling.cancel()
        door.leaves(address)
        door.live.left(learner)


async def _keep_telling(live: LiveLesson, socket: WebSocket, wake: Wake) -> None:
    """Send what is asked whenever it changes; now and then, so that a dead line is noticed."""
    with suppress(WebSocketDisconnect, RuntimeError):
        while True:
            await wake.wait(STILL_HERE_S)
            await socket.send_text(json.dumps(live.for_learners))
            if not live.is_open:
                await socket.close(OVER, REFUSALS[OVER])
                return


def _refused(status: int) -> Response:
    return PlainTextResponse(REFUSALS[status], status - 4000, headers=_FRESH)


def _address(connection: Request | WebSocket) -> str:
    return connection.client.host if connection.client else ""


async def _body(request: Request) -> bytes | None:
    """Give the body; None where it is too long, without reading it whole."""
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > LONGEST_MESSAGE:
            return None
    return body


def _sequence_in(text: str | bytes) -> int:
    """Give the learner's own number in a message that is no answer: its page drops it."""
    written = text if isinstance(text, str) else text.decode("utf-8", "replace")
    found = re.search(r'"sequence"\s*:\s*(\d{1,16})\b', written[:LONGEST_MESSAGE])
    return int(found[1]) if found else -1
