"""The learners' port: who is let in, what is taken, and that nothing that was taken is lost.

Close codes 4000 to 4999 are free for applications (RFC 6455, 7.4.2). What is asked of Host and
Origin: RFC 9110 (7.2, 15.5.20) and the Fetch standard.
"""

from __future__ import annotations

import asyncio
import base64
import json
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
import websockets
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

sys.path.insert(0, str(Path(__file__).parents[1] / "unit"))
from lesson_trial import CODE, PREDICT, READ, message, open_lesson

from glowtrace.lesson.live import LiveLesson
from glowtrace.store import open_store
from glowtrace.web.guard import Guard, own_hosts
from glowtrace.web.learners.app import learners_app, learners_page
from glowtrace.web.learners.limits import Allowance, Guesses

OWN = "127.0.0.1:8600"


@pytest.fixture
def live(tmp_path: Path) -> Iterator[LiveLesson]:
    with open_store(tmp_path / "s.sqlite") as store:
        live = open_lesson(store)
        live.ask(PREDICT)
        yield live
        live.end()


@pytest.fixture
def client(live: LiveLesson) -> TestClient:
    return TestClient(Guard(learners_app(live), own_hosts("127.0.0.1", 8600)), f"http://{OWN}")


def closing_code(client: TestClient, address: str) -> int:
    with (
        pytest.raises(WebSocketDisconnect) as end,
        client.websocket_connect(f"ws://{OWN}{address}") as talk,
    ):
        talk.receive_text()
    return end.value.code


# ---- who is let in -----------------------------------------------------------------------------


def test_page_is_one_light_file_that_loads_nothing(client: TestClient):
    answer = client.get(f"/{CODE}")
    assert answer.status_code == 200
    assert len(answer.content) < 50_000
    assert not [each for each in ("src=", "@import", "url(", "//cdn") if each in answer.text]
    policies = answer.headers.get_list("content-security-policy")
    assert any("default-src 'none'" in each for each in policies)
    assert not any("unsafe" in each for each in policies)
    assert any("frame-ancestors 'none'" in each for each in policies)  # the strictest one counts


def test_nothing_of_the_desk_is_there(client: TestClient):
    for path in ("/logbook", "/measure", "/lesson", "/bench"):
        assert client.get(path).text == learners_page()  # the same page asks for a code
    for path in ("/_nicegui/x", "/_nicegui_ws/socket.io/", "/glowtrace/tokens.css", "/a/b/c"):
        assert client.get(path).status_code == 404
    assert client.post("/logbook").status_code == 405


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Host": "lesson.example:8600"}, 421),
        ({"Origin": "http://elsewhere.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
    ],
)
def test_foreign_names_and_pages_are_refused(client: TestClient, headers, status: int):
    assert client.post(f"/{CODE}/answer", content=message(), headers=headers).status_code == status
    with (
        pytest.raises(WebSocketDisconnect),
        client.websocket_connect(
            f"ws://{OWN}/{CODE}/talk", headers={"Origin": "http://elsewhere.example"}
        ),
    ):
        pass


def test_wrong_code(client: TestClient):
    assert closing_code(client, "/ABCDEF/talk") == 4404
    answer = client.get("/ABCDEF/state")
    assert answer.status_code == 404
    assert "code" in answer.text


def test_code_may_be_typed_as_people_do(client: TestClient):
    assert client.get(f"/{CODE[:3].lower()}-{CODE[3:]}/state").status_code == 200


def test_closed_lesson_says_so(client: TestClient, live: LiveLesson):
    with client.websocket_connect(f"ws://{OWN}/{CODE}/talk?learner=a") as talk:
        assert json.loads(talk.receive_text())["open"] is True
        live.close()
        assert json.loads(talk.receive_text())["open"] is False
        with pytest.raises(WebSocketDisconnect) as end:
            talk.receive_text()
    assert end.value.code == 4410
    assert closing_code(client, f"/{CODE}/talk") == 4410
    assert client.get(f"/{CODE}/state").status_code == 410


def test_guesses_are_limited_and_the_right_one_is_refused_then_too():
    now = [0.0]
    guesses = Guesses(lambda: now[0])
    for _ in range(20):
        assert not guesses.are_used_up("thief")
        guesses.was_wrong("thief")
    assert guesses.are_used_up("thief")
    assert not guesses.are_used_up("learner")
    now[0] = 60.0
    assert not guesses.are_used_up("thief")


def test_who_is_in_stays_in_while_others_guess():
    guesses = Guesses(lambda: 0.0)
    guesses.was_right("learner")
    for n in range(400):
        guesses.was_wrong(f"thief {n}")
    assert guesses.are_used_up("a newcomer")
    assert not guesses.are_used_up("learner")


def test_guessing_through_the_port(client: TestClient):
    answers = [client.get(f"/GUES{n:02}/state").status_code for n in range(30)]
    assert answers[:20] == [404] * 20
    assert answers[20:] == [429] * 10
    assert client.get(f"/{CODE}/state").status_code == 429


def test_allowance_fills_up_again():
    now = [0.0]
    allowance = Allowance(3, 2.0, lambda: now[0])
    assert [allowance.use("a") for _ in range(4)] == [True, True, True, False]
    assert allowance.use("b")
    now[0] = 1.0
    assert [allowance.use("a") for _ in range(3)] == [True, True, False]


# ---- what is taken -----------------------------------------------------------------------------


def test_answer_by_websocket_and_by_a_plain_request_is_one(client: TestClient, live: LiveLesson):
    with client.websocket_connect(f"ws://{OWN}/{CODE}/talk?learner=a") as talk:
        talk.receive_text()
        talk.send_text(message(sequence=5))
        assert json.loads(talk.receive_text()) == {"kept": 5, "late": False}
    posted = client.post(f"/{CODE}/answer", content=message(sequence=5))
    assert posted.json() == {"kept": 5, "late": False}
    assert len(live.answers(1)) == 1


def test_refusal_names_the_answer_so_that_the_phone_can_drop_it(client: TestClient):
    posted = client.post(f"/{CODE}/answer", content=message(sequence=9, line=[]))
    assert posted.json()["no"] == 9
    assert "Nothing is drawn" in posted.json()["why"]
    broken = '{"sequence": 12, "line": 4}'
    assert client.post(f"/{CODE}/answer", content=broken).json()["no"] == 12


def test_photograph_goes_to_who_is_in_the_lesson(client: TestClient, live: LiveLesson):
    jpeg = b"\xff\xd8 a photograph"
    text = base64.b64encode(jpeg).decode()
    number = live.ask(READ.model_copy(update={"photograph": text}))
    given = client.get(f"/{CODE}/photograph/{number}")
    assert (given.content, given.headers["content-type"]) == (jpeg, "image/jpeg")
    assert client.get(f"/{CODE}/photograph/1").status_code == 404  # a question without one
    assert client.get(f"/ABCDEF/photograph/{number}").status_code == 404


def test_long_bodies_are_not_read(client: TestClient):
    assert client.post(f"/{CODE}/answer", content=b"x" * 100_000).status_code == 413


def test_text_of_a_learner_stays_text(client: TestClient, live: LiveLesson):
    name = "<img src=x onerror=1>"
    assert client.post(f"/{CODE}/answer", content=message(nickname=name)).json()["kept"] == 1
    assert live.answers(1)["0123456789abcdef"].nickname == name
    page = learners_page()
    assert "innerHTML" not in page
    assert "document.write" not in page


def mutated(rng: random.Random) -> str:
    """Give a message with something wrong: bytes changed, cut, doubled, or values swapped."""
    text = message(sequence=rng.randrange(10**6))
    way = rng.randrange(6)
    if way == 0:
        signs = list(text)
        for _ in range(rng.randrange(1, 8)):
            signs[rng.randrange(len(signs))] = chr(rng.choice([0, 10, 34, 92, 123, 8232, 65535]))
        return "".join(signs)
    if way == 1:
        return text[: rng.randrange(len(text))]
    if way == 2:
        return text * rng.randrange(2, 5)
    values = [None, True, -1, 2**70, 1e308, -1e999, "", "x" * 300, [], {}, [[]], [[0]], "\ud800"]
    told = json.loads(text)
    for _ in range(rng.randrange(1, 4)):
        told[rng.choice([*told, "choice", "readings", "group", "nickname"])] = rng.choice(values)
    if way == 3:
        told["line"] = [[rng.choice(values), rng.choice(values)] for _ in range(rng.randrange(99))]
    return json.dumps(told)


def disturb(client: TestClient, live: LiveLesson, count: int) -> None:
    rng = random.Random(7)
    learners = {f"{n:016x}": message(learner=f"{n:016x}", sequence=1) for n in range(40)}
    for n in range(count):
        with_code = client.post(f"/{CODE}/answer", content=mutated(rng).encode("utf-8", "replace"))
        assert with_code.status_code in (200, 413)
        if n % (count // 40) == 0 and n // (count // 40) < 40:
            learner, told = list(learners.items())[n // (count // 40)]
            answer: dict = {}
            while "kept" not in answer:  # the flood uses up what its address may send
                answer = client.post(f"/{CODE}/answer", content=told).json()
            assert answer == {"kept": 1, "late": False}
            assert learner in live.answers(1)
    assert set(learners) <= set(live.answers(1))


def test_hostile_messages_disturb_nobody(client: TestClient, live: LiveLesson, caplog):
    disturb(client, live, 400)
    assert not caplog.records


@pytest.mark.thorough
@pytest.mark.slow
def test_five_thousand_hostile_messages_disturb_nobody(client, live: LiveLesson, caplog):
    disturb(client, live, 5000)
    assert not caplog.records


# ---- kill -9 -----------------------------------------------------------------------------------


class LessonServer:
    def __init__(self, folder: Path) -> None:
        self.database = folder / "lesson.sqlite"
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.start()

    def start(self) -> None:
        program = Path(__file__).with_name("lesson_server.py")
        self.process = subprocess.Popen(
            [sys.executable, program, self.database, str(self.port)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self.process.stdout is not None
        assert self.process.stdout.readline() == "ready\n"

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()

    def kept(self) -> tuple[set[tuple[str, int]], int, str]:
        with closing(sqlite3.connect(self.database)) as connection:
            rows = connection.execute("SELECT learner, sequence FROM lesson_answer").fetchall()
            integrity = connection.execute("PRAGMA integrity_check").fetchone()[0]
        return set(rows), len(rows), integrity


async def keep_answering(server: LessonServer, number: int, acknowledged: set, stop) -> None:
    learner, sequence = f"{number:016x}", 0
    address = f"ws://127.0.0.1:{server.port}/{CODE}/talk?learner={learner}"
    while not stop.is_set():
        try:
            async with websockets.connect(address, open_timeout=5) as talk:
                while not stop.is_set() and sequence < 55:
                    await talk.send(message(learner=learner, sequence=sequence, choice="up"))
                    while "kept" not in (reply := json.loads(await talk.recv())):
                        assert "no" not in reply, reply
                    acknowledged.add((learner, reply["kept"]))
                    sequence += 1
                    await asyncio.sleep(random.random() * 0.2)
                await stop.wait()
        except (OSError, websockets.WebSocketException):
            await asyncio.sleep(0.05)


async def flood(server: LessonServer) -> tuple[int, float]:
    """One learner sends without end while others answer; give how many of theirs were kept."""
    address = f"ws://127.0.0.1:{server.port}/{CODE}/talk?learner="
    flooder = 16 * "f"

    async def send_without_end() -> None:
        async with websockets.connect(f"{address}{flooder}") as talk:
            for sequence in range(100_000):
                await talk.send(message(learner=flooder, sequence=sequence, choice="up"))

    async def answer_once(number: int) -> bool:
        learner = f"{number:016x}"
        async with websockets.connect(f"{address}{learner}") as talk:
            await talk.send(message(learner=learner, choice="up"))
            while "kept" not in json.loads(await talk.recv()):
                pass
        return True

    began = time.monotonic()
    flooding = asyncio.create_task(send_without_end())
    await asyncio.sleep(0.5)
    kept = await asyncio.gather(*map(answer_once, range(20)))
    await asyncio.sleep(0.5)
    assert not flooding.done()  # nothing more is read from it: it waits
    flooding.cancel()
    return sum(kept), time.monotonic() - began


@pytest.mark.thorough
@pytest.mark.slow
def test_one_learner_who_floods_changes_nothing_for_the_others(tmp_path: Path):
    server = LessonServer(tmp_path)
    try:
        kept, took = asyncio.run(flood(server))
        learners = [learner for learner, _ in server.kept()[0]]
    finally:
        server.kill()
    assert kept == len(set(learners)) - 1 == 20
    assert learners.count(16 * "f") <= min(60, 20 + 5 * took + 5)


async def kill_often(server: LessonServer, kills: int) -> set:
    acknowledged: set[tuple[str, int]] = set()
    for turn in range(kills):
        stop = asyncio.Event()
        learners = [
            asyncio.create_task(keep_answering(server, 100 * turn + n, acknowledged, stop))
            for n in range(12)
        ]
        await asyncio.sleep(0.4 + 0.6 * random.random())
        await asyncio.to_thread(server.kill)
        kept, count, integrity = server.kept()
        assert integrity == "ok"
        assert acknowledged <= kept, "an acknowledged answer was lost"
        assert count == len(kept), "an answer was kept twice"
        await asyncio.to_thread(server.start)
        before = len(acknowledged)
        end = time.monotonic() + 30
        while (
            len(acknowledged) == before and time.monotonic() < end
        ):  # they come back by themselves
            await asyncio.sleep(0.05)
        assert len(acknowledged) > before
        stop.set()
        await asyncio.gather(*learners)
    return acknowledged


@pytest.mark.slow
def test_no_acknowledged_answer_is_lost_when_the_server_is_killed(tmp_path: Path):
    server = LessonServer(tmp_path)
    try:
        assert len(asyncio.run(kill_often(server, 1))) > 10
    finally:
        server.kill()


@pytest.mark.thorough
@pytest.mark.slow
def test_no_acknowledged_answer_is_lost_in_fifty_kills(tmp_path: Path):
    server = LessonServer(tmp_path)
    try:
        assert len(asyncio.run(kill_often(server, 50))) > 500
    finally:
        server.kill()
