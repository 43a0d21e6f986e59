"""The page's server as a process, and the page as a visitor uses it."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

from glowtrace.web.steps import STAGES

PROGRAM = "from glowtrace.web.page import open_page; open_page(serve=True, port={port})"
PATIENCE = 60_000  # ms; a busy machine needs more than the second or two that it takes alone

QUIET_FOR = 300  # ms without a new picture


GRAVE = ("serious", "critical")
ALSO = ("heading-order",)
"""Moderate by axe-core, but a page without it is read like a text without chapters."""


def grave(page: Page) -> list[str]:
    """Give what axe-core finds that may not be; its rules are most of them after WCAG 2."""
    found = Axe().run(page).response["violations"]
    return [
        f"{each['id']} ({each['impact']}): {node['html']}"
        for each in found
        if each["impact"] in GRAVE or each["id"] in ALSO
        for node in each["nodes"]
    ]


def go(page: Page, step: str) -> None:
    """Follow the line of steps to another page, by its stage."""
    steps = page.get_by_role("navigation", name="Steps")
    stage, pages = next(each for each in STAGES.items() if step in each[1].values())
    link = steps.get_by_role("link", name=step, exact=True)
    is_beside = link.count() > 0
    if not is_beside:
        steps.get_by_role("link", name=stage).click()
        first = next(iter(pages.values()))
        expect(page.get_by_role("heading", level=1, name=first)).to_be_attached(timeout=PATIENCE)
    if is_beside or step not in page.title():
        link.click()
    expect(page.get_by_role("heading", level=1, name=step)).to_be_attached(timeout=PATIENCE)


class Server:
    """The page's server as a process of its own, which can be killed and started again."""

    def __init__(self, data: Path) -> None:
        self.data = data
        self.trouble = data / "stderr.txt"
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port: int = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}/"
        self.start()

    def start(self) -> None:
        # The page's framework would take a program started by a test for a test of its own.
        inherited = {name: value for name, value in os.environ.items() if "PYTEST" not in name}
        with self.trouble.open("a") as trouble:  # a pipe that nobody reads would fill up
            self.process = subprocess.Popen(
                [sys.executable, "-c", PROGRAM.format(port=self.port)],
                env={**inherited, "GLOWTRACE_DATA": str(self.data)},
                stderr=trouble,
            )
        end = time.monotonic() + PATIENCE / 1e3
        while time.monotonic() < end:
            with socket.socket() as trial:
                if trial.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            if self.process.poll() is not None:
                break
            time.sleep(0.05)
        pytest.fail(f"the server did not start: {self.trouble.read_text()}")

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


class Bench:
    """The page as a visitor uses it, and what its canvas shows."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.trouble: list[str] = []
        self.asked_for: list[str] = []
        page.on("request", lambda request: self.asked_for.append(request.url))
        page.on("websocket", lambda socket: self.asked_for.append(socket.url))
        page.on("pageerror", lambda error: self.trouble.append(str(error)))

    def wait_for_rest(self, after: int = 0) -> int:
        """Wait for a picture of resting knobs with a number above `after`; give its number."""
        state = "document.querySelector('.screen canvas').glowtrace"
        self.page.wait_for_function(
            f"after => {state}?.resting && {state}.number > after", arg=after, timeout=PATIENCE
        )
        return int(self.page.evaluate(f"{state}.number"))

    def do(self, action: Callable[[], object]) -> None:
        """Do something that changes the picture, and wait until it rests for good."""
        before = self.wait_for_rest()
        action()
        seen = self.wait_for_rest(before)
        while True:
            self.page.wait_for_timeout(QUIET_FOR)
            last, seen = seen, self.wait_for_rest(before)
            if last == seen:
                return

    def glow(self) -> tuple[int, float, float]:
        """Give how many pixels glow (are colder than the warm ground), and their middle (x, y)."""
        count, x, y = self.page.evaluate(
            """() => {
              const canvas = document.querySelector(".screen canvas");
              const { width, height } = canvas;
              const { data } = canvas.getContext("2d").getImageData(0, 0, width, height);
              let [count, x, y] = [0, 0, 0];
              for (let i = 0; i < data.length; i += 4) {
                if (data[i + 2] - data[i] < 40) continue;
                count += 1;
                x += (i / 4) % width;
                y += Math.floor(i / 4 / width);
              }
              return [count, x / count, y / count];
            }"""
        )
        return int(count), float(x or 0), float(y or 0)

    def knob(self, label: str) -> Locator:
        return self.page.get_by_role("slider", name=label, exact=True)

    def turn(self, label: str, key: str, times: int = 1) -> None:
        """Turn a knob with a key."""
        self.knob(label).focus()
        for _ in range(times):
            self.page.keyboard.press(key)

    def choose(self, group: str, option: str, nth: int = 0) -> None:
        """Choose one of a few options by keyboard-focusable radio."""
        choice = self.page.get_by_role("radiogroup", name=group).nth(nth)
        choice.get_by_role("radio", name=option, exact=True).check(force=True)
