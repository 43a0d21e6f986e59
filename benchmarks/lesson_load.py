"""A class answers while the teacher turns a knob: simulated phones through real sockets.

A server of its own; the desk's page Lesson and the page Rehearse in headless Chromium without a
graphics card; four learners' pages in the same browser; and simulated phones in a process of their
own, a fifth of which drop their connection once for each question. Two questions with nothing else,
then one while plans are made and sheets are printed one after the other. All of it on this machine
over loopback, so that the load counts against the server. An answer is on the desk when the count
there shows it; the n-th answer on the desk is compared with the n-th that was sent. Run with
``python benchmarks/lesson_load.py`` or with the numbers of phones; with ``hour`` the questions of
an hour of lessons are asked in some minutes, and the memory of the page is noted.
"""

from __future__ import annotations

import asyncio
import json
import os
import random
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import websockets
from playwright.sync_api import Browser, Page, sync_playwright
from rich.console import Console
from rich.table import Table

from glowtrace.web.learners.app import OVER
from page_rate import CANVAS, CHROMIUM, FIRST, FLAGS, KNOBS, SWEEP, served

PHONES = (60, 200)
BENCH = "deflection tube"
QUERY = f"bench=ready-made/{BENCH}&accelerating_voltage=3000&coil_current=0.3"
JOIN_S, ANSWER_S, TURN_S, QUESTIONS = 10.0, 8.0, 10, 2
REAL = 4
HOUR, QUICK_S, EVERY_S = 40, 1.5, 3.0
"""Questions of an hour, and at which pace they are answered and asked."""
GOALS = ("null", "coil deflection", "plate deflection", "turn-back")
WATCH = """() => {
  window.seen = [];
  const count = document.querySelector(".lesson-count");
  new MutationObserver(() => window.seen.push([Date.now(), Number(count.dataset.answers)]))
    .observe(count, { attributes: true, attributeFilter: ["data-answers"] });
}"""
ANSWER = """() => {
  window.sent = [];
  let done = 0;
  setInterval(() => {
    const radio = document.querySelector("#options input");
    if (document.getElementById("ask").hidden || !radio || shown === done) return;
    done = shown;
    radio.click();
    window.sent.push([done, Date.now() / 1000]);
    document.getElementById("send").click();
  }, 500);
}"""


# ---- simulated phones --------------------------------------------------------------------------


class Phone:
    """One simulated phone: answers each question once, and comes back when it is cut off."""

    def __init__(self, number: int, address: str, answers_in: float) -> None:
        self.learner = f"{number:016x}"
        self.address = f"{address.replace('http', 'ws')}/talk?learner={self.learner}"
        self.drops = number % 5 == 0
        self.answers_in = answers_in
        self.sent: list[tuple[int, float]] = []
        self.acknowledged: list[float] = []
        self.answered = self.dropped = 0

    async def live(self) -> None:
        """Take part until the lesson is over."""
        await asyncio.sleep(JOIN_S * random.random())
        while True:
            try:
                async with websockets.connect(self.address, max_size=2**20) as talk:
                    if await self.stay(talk):
                        return
            except websockets.ConnectionClosed as error:
                if error.rcvd is not None and error.rcvd.code == OVER:
                    return
            except (OSError, websockets.WebSocketException):
                pass
            await asyncio.sleep(1.0 + 2.0 * random.random())

    async def stay(self, talk: websockets.ClientConnection) -> bool:
        """Follow the lesson; True once it is over, False where the phone drops out."""
        async for text in talk:
            told = json.loads(text)
            if told.get("open") is False:
                return True
            if not told.get("takes") or told["number"] == self.answered:
                continue
            if self.drops and self.dropped != told["number"]:
                self.dropped = told["number"]
                talk.transport.abort()
                return False
            await asyncio.sleep(self.answers_in * random.random())
            await self.answer(talk, told["number"])
        return False

    async def answer(self, talk: websockets.ClientConnection, question: int) -> None:
        """Draw a line and wait until it is kept."""
        line = [[1.0 + 2.4 * n, 0.004 * n * n + random.random()] for n in range(40)]
        message = {"learner": self.learner, "sequence": question, "question": question}
        began = time.time()
        self.sent.append((question, began))
        await talk.send(json.dumps({**message, "line": line}))
        while "kept" not in json.loads(await talk.recv()):
            pass
        self.acknowledged.append(time.time() - began)
        self.answered = question


async def simulate(count: int, address: str, result: Path, answers_in: float) -> None:
    phones = [Phone(n, address, answers_in) for n in range(count)]
    await asyncio.gather(*(phone.live() for phone in phones))
    sent = [each for phone in phones for each in phone.sent]
    acknowledged = [each for phone in phones for each in phone.acknowledged]
    result.write_text(json.dumps({"sent": sent, "acknowledged": acknowledged}))


# ---- the teacher -------------------------------------------------------------------------------


def open_lesson(desk: Page) -> str:
    desk.get_by_text("Step 1 of").wait_for(timeout=180_000)
    desk.get_by_role("button", name="Open", exact=True).click()
    desk.locator(".lesson-code").wait_for()
    desk.wait_for_function("document.querySelector('.lesson-code').textContent.length > 5")
    for _ in range(int(desk.get_by_text("Step 1 of").inner_text().split()[-1]) - 1):
        desk.keyboard.press("PageDown")
    code = desk.locator(".lesson-code").inner_text().replace(" ", "")
    return f"http://{desk.locator('.lesson-address').inner_text()}/{code}"


def on_desk(sent: list[float], seen: list[tuple[float, int]]) -> list[float]:
    """Give how long after it was sent the n-th answer was on the desk, s."""
    times: list[float] = []
    for moment, count in seen:
        times += [moment / 1e3] * (count - len(times))
    return [there - gone for gone, there in zip(sorted(sent), times, strict=False)]


def spread(values: list[float]) -> str:
    ordered = sorted(1e3 * value for value in values)
    last = ordered[max(0, round(0.95 * len(ordered)) - 1)]
    return f"{statistics.median(ordered):.0f} / {last:.0f} / {ordered[-1]:.0f}"


def page_memory() -> int:
    """Give the bytes that the page's server holds, this program's first child (Linux)."""
    own = os.getpid()
    server = Path(f"/proc/{own}/task/{own}/children").read_text().split()[0]
    return int(Path(f"/proc/{server}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")


def start_phones(
    count: int, lesson: str, result: Path, answers_in: float
) -> subprocess.Popen[bytes]:
    told = map(str, (count, lesson, result, answers_in))
    return subprocess.Popen([sys.executable, __file__, "phones", *told])


def turn(rehearse: Page, meanwhile: Callable[[], None] = lambda: None) -> float:
    """Turn the knob while something else is done; give the pictures a second."""
    rehearse.evaluate(f"(what) => {{ window.turning = ({SWEEP})(what); }}", [KNOBS[BENCH], TURN_S])
    meanwhile()
    return len(rehearse.evaluate("window.turning")) / TURN_S


def prepare(other: Page, address: str) -> int:
    """Make plans and print sheets of them as long as the knob turns; give how many of both."""
    end = time.monotonic() + TURN_S - 0.5
    made = 0
    while time.monotonic() < end:
        query = f"{QUERY}&plate_voltage={900 + made}&goal={GOALS[made % len(GOALS)]}"
        other.goto(f"{address}plan?{query}")
        other.get_by_role("heading", level=1).wait_for()
        other.request.get(f"{address}glowtrace-sheet.pdf?{query}", timeout=60_000)
        made += 1
    return made


def hold_an_hour(browser: Browser, address: str, count: int, folder: Path) -> list[list[str]]:
    """Ask the questions of an hour quickly; give rows of the page's memory."""
    desk = browser.new_context().new_page()
    desk.goto(f"{address}lesson?{QUERY}")
    lesson = open_lesson(desk)
    phones = start_phones(count, lesson, folder / "phones.json", QUICK_S)
    desk.wait_for_timeout(1e3 * (JOIN_S + 2))
    rows, began = [], time.monotonic()
    for number in range(1, HOUR + 1):
        desk.get_by_role("button", name="Ask for predictions").click()
        desk.wait_for_timeout(1e3 * EVERY_S)
        if number % 10 == 0 or number == 5:
            text = f"{number}", f"{time.monotonic() - began:.0f}", f"{page_memory() / 1e6:.0f}"
            rows.append(list(text))
    desk.get_by_role("button", name="End the lesson").click()
    phones.wait(60)
    kept = len(json.loads((folder / "phones.json").read_text())["acknowledged"])
    rows.append([f"{kept} answers acknowledged", "", ""])
    desk.close()
    return rows


def hold(browser: Browser, address: str, count: int, folder: Path) -> list[str]:
    """Hold a lesson with so many phones and give a row of the table."""
    desk, rehearse = (browser.new_context().new_page() for _ in range(2))
    desk.goto(f"{address}lesson?{QUERY}")
    lesson = open_lesson(desk)
    rehearse.goto(f"{address}?{QUERY}")
    rehearse.wait_for_function(FIRST, timeout=120_000)
    rehearse.wait_for_function(f"{CANVAS}.glowtrace.resting", timeout=120_000)
    alone = turn(rehearse)
    memory = page_memory()
    result = folder / "phones.json"
    phones = start_phones(count, lesson, result, ANSWER_S)
    real = [browser.new_context().new_page() for _ in range(REAL)]
    for page in real:
        page.goto(lesson)
        page.evaluate(ANSWER)
    desk.wait_for_timeout(1e3 * (JOIN_S + 2))
    desk.evaluate(WATCH)
    latencies: list[list[float]] = []
    rates = []
    seen_before = 0
    all_seen = []
    other = browser.new_context().new_page()
    made: list[int] = []
    for number in range(QUESTIONS + 1):
        is_busy = number == QUESTIONS
        desk.get_by_role("button", name="Ask for predictions").click()
        meanwhile = (lambda: made.append(prepare(other, address))) if is_busy else lambda: None
        rates.append(turn(rehearse, meanwhile))
        desk.wait_for_timeout(4_000)
        seen = desk.evaluate("window.seen")
        all_seen.append(seen[seen_before:])
        seen_before = len(seen)
    by_page = [tuple(each) for page in real for each in page.evaluate("window.sent")]
    desk.get_by_role("button", name="End the lesson").click()
    phones.wait(60)
    told = json.loads(result.read_text())
    every = [*map(tuple, told["sent"]), *by_page]
    wanted = got = 0
    for number, seen in enumerate(all_seen, 1):
        sent = [moment for question, moment in every if question == number]
        found = on_desk(sent, [(moment, n) for moment, n in seen if n > 0])
        latencies.append(found)
        wanted, got = wanted + len(sent), got + len(found)
    grown = (page_memory() - memory) / 1e6
    for page in (desk, rehearse, other, *real):
        page.close()
    return [
        f"{count} + {REAL}",
        f"{got} of {wanted}",
        spread([each for found in latencies[:QUESTIONS] for each in found]),
        spread(told["acknowledged"]),
        f"{alone:.0f}",
        f"{statistics.mean(rates[:QUESTIONS]):.0f}",
        spread(latencies[QUESTIONS]),
        f"{rates[QUESTIONS]:.0f} ({made[0]})",
        f"{grown:+.0f}",
    ]


def main(counts: tuple[int, ...]) -> None:
    table = Table(title="A class answers while a knob turns; ms are median / 95 % / most")
    for heading in ("phones", "on the desk", "to the desk / ms", "acknowledged / ms",
                    "pictures / s alone", "with answers", "to the desk with plans / ms",
                    "pictures / s (plans and sheets)", "memory / MB"):  # fmt: skip
        table.add_column(heading, justify="right")
    with served() as address, sync_playwright() as playwright, TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for count in counts:
            table.add_row(*hold(browser, address, count, Path(folder)))
        browser.close()
    Console(width=150).print(table)


def main_of_an_hour() -> None:
    table = Table(title=f"{HOUR} questions to {PHONES[0]} phones, one every {EVERY_S:.0f} s")
    for heading in ("questions", "time / s", "memory of the page / MB"):
        table.add_column(heading, justify="right")
    with served() as address, sync_playwright() as playwright, TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for row in hold_an_hour(browser, address, PHONES[0], Path(folder)):
            table.add_row(*row)
        browser.close()
    Console().print(table)


if __name__ == "__main__":
    if sys.argv[1:2] == ["phones"]:
        count, lesson, result, answers_in = sys.argv[2:]
        asyncio.run(simulate(int(count), lesson, Path(result), float(answers_in)))
    elif sys.argv[1:] == ["hour"]:
        main_of_an_hour()
    else:
        main(tuple(map(int, sys.argv[1:])) or PHONES)
