"""Who may talk to the page: the rules of the Host and Origin headers (RFC 9110, Fetch standard)."""

from __future__ import annotations

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route, WebSocketRoute
from starlette.testclient import TestClient
from starlette.websockets import WebSocket, WebSocketDisconnect

from glowtrace.web.guard import Guard, own_hosts

OWN = "localhost:8480"


async def _answer(_: Request) -> PlainTextResponse:
    return PlainTextResponse("the logbook")


async def _talk(socket: WebSocket) -> None:
    await socket.accept()
    await socket.send_text("hello")
    await socket.close()


@pytest.fixture
def client() -> TestClient:
    routes = [Route("/", _answer, methods=["GET", "POST"]), WebSocketRoute("/talk", _talk)]
    guarded = Guard(Starlette(routes=routes), own_hosts("127.0.0.1", 8480))
    return TestClient(guarded, base_url=f"http://{OWN}")


@pytest.mark.parametrize("host", [OWN, "127.0.0.1:8480", "[::1]:8480", "LOCALHOST:8480"])
def test_own_addresses_are_let_in(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"Host": host})
    assert answer.text == "the logbook"
    assert answer.headers["content-security-policy"] == "frame-ancestors 'self'"
    assert answer.headers["x-frame-options"] == "SAMEORIGIN"


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8480", "localhost", ""])
def test_a_foreign_name_reads_nothing(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"Host": host})
    assert answer.status_code == 421
    assert "logbook" not in answer.text


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Origin": f"http://{OWN}"}, 200),
        ({"Sec-Fetch-Site": "same-origin"}, 200),
        ({}, 200),  # a program on this machine, not a browser
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "http://localhost:9999"}, 403),
        ({"Origin": "null"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
    ],
)
def test_only_own_pages_write(client: TestClient, headers: dict[str, str], status: int) -> None:
    assert client.post("/", headers=headers).status_code == status


def test_a_foreign_page_gets_no_socket(client: TestClient) -> None:
    with client.websocket_connect("/talk", headers={"Host": OWN}) as socket:
        assert socket.receive_text() == "hello"
    foreign = {"Host": OWN, "Origin": "http://evil.example"}
    with pytest.raises(WebSocketDisconnect), client.websocket_connect("/talk", headers=foreign):
        pass


def test_every_address_lets_in_the_names_of_this_machine() -> None:
    hosts = own_hosts("0.0.0.0", 8480)
    assert OWN in hosts
    assert len(hosts) > len(own_hosts("127.0.0.1", 8480))
