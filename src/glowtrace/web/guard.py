"""Who may talk to the page: requests to its own address, from its own pages.

Without it a page of another origin could write into the logbook, a foreign name that resolves to
this machine could read it, and a frame could have the visitor click unseen. The checks are those
of the Fetch standard's `Origin` header and of RFC 9110 (7.2 Host, 15.5.20 Misdirected Request);
from memory.
"""

from __future__ import annotations

import socket
from collections.abc import Iterable, Mapping
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK: Final = ("localhost", "127.0.0.1", "[::1]")
EVERY_ADDRESS: Final = ("0.0.0.0", "::")
MISDIRECTED, FORBIDDEN, POLICY_VIOLATION = 421, 403, 1008
HARMLESS: Final = ("GET", "HEAD", "OPTIONS")
OWN_FRAMES: Final = "frame-ancestors 'self'"
PROTECTION: Final[Mapping[str, str]] = {
    "X-Frame-Options": "SAMEORIGIN",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
}


class Guard:
    """Lets in only what was sent to the page's own addresses, and not by a page of another origin.

    Parameters
    ----------
    app
        What is guarded, websockets included.
    hosts
        The page's addresses as browsers name them, such as "localhost:8480".
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str]) -> None:
        self._app, self._hosts = app, frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal and scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": POLICY_VIOLATION})
        elif refusal:
            text = "This address or origin is not let in."
            await PlainTextResponse(text, refusal)(scope, receive, send)
        else:
            await self._app(scope, receive, _protecting(send))

    def _refusal(self, scope: Scope) -> int:
        """Give the status with which a request is refused; 0 where it is not."""
        headers = Headers(scope=scope)
        host = headers.get("host", "").lower()
        if headers.getlist("host")[1:] or host not in self._hosts:
            return MISDIRECTED
        origin = headers.get("origin", "").lower()
        if origin:
            return 0 if origin in (f"http://{host}", f"https://{host}") else FORBIDDEN
        changes_something = scope["type"] == "http" and scope["method"] not in HARMLESS
        is_foreign = headers.get("sec-fetch-site", "none") not in ("same-origin", "none")
        return FORBIDDEN if changes_something and is_foreign else 0


def own_hosts(host: str, port: int) -> tuple[str, ...]:
    """Give the names under which browsers may reach a server that listens on `host`, with port."""
    names = [*LOOPBACK, host]
    if host in EVERY_ADDRESS:
        names += [socket.gethostname(), *network_addresses()]
    return tuple(f"{name.lower()}:{port}" for name in names)


def network_addresses() -> tuple[str, ...]:
    """Give this machine's addresses on its networks, without those that lead only to itself."""
    try:
        found = socket.getaddrinfo(socket.gethostname(), None, type=socket.SOCK_STREAM)
    except OSError:
        found = []
    texts = {str(address[0]).partition("%")[0]: kind for kind, _, _, _, address in found}
    if main := _main_address():
        texts = {main: socket.AF_INET, **texts}
    named = (f"[{text}]" if kind == socket.AF_INET6 else text for text, kind in texts.items())
    return tuple(sorted(each for each in named if not each.startswith(("127.", "[::1]"))))


def _main_address() -> str:
    """Give the address from which this machine would speak to another network; empty for none.

    A name server, which knows the host's name, may know another address, or only 127.0.1.1.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as trial:
        try:
            trial.connect(("192.0.2.1", 9))  # for documents (RFC 5737); nothing is sent
        except OSError:
            return ""
        return str(trial.getsockname()[0])


def _protecting(send: Send) -> Send:
    """Send answers that no foreign page can frame."""

    async def send_protected(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in PROTECTION.items():
                headers[name] = value
            headers.append("Content-Security-Policy", OWN_FRAMES)  # beside one of the page's own
        await send(message)

    return send_protected
