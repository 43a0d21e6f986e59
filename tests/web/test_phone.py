"""A learner's page in a browser when things go wrong: one clear message each, and nothing lost.

No outside source: the rules are those of docs/lesson.md. The phone's clock is put forward by the
browser's driver, so that nobody waits for a minute.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from test_learners import CODE, LessonServer
from visitor import PATIENCE

pytestmark = [pytest.mark.browser, pytest.mark.slow]

ARRIVED = "Your answer has arrived"


@pytest.fixture
def lesson(tmp_path: Path) -> Iterator[LessonServer]:
    server = LessonServer(tmp_path)
    yield server
    server.process.send_signal(signal.SIGCONT)
    server.kill()


@pytest.fixture
def open_tab(browser: Browser, lesson: LessonServer) -> Iterator[Callable[[], Page]]:
    """Open a tab of one and the same phone."""
    phone = browser.new_context(viewport={"width": 390, "height": 844})

    def open_it() -> Page:
        tab = phone.new_page()
        tab.clock.install()
        tab.goto(f"http://127.0.0.1:{lesson.port}/{CODE}")
        expect(tab.get_by_text("connected", exact=True)).to_be_visible(timeout=PATIENCE)
        return tab

    yield open_it
    phone.close()


def answer(tab: Page, choice: str) -> None:
    tab.get_by_role("radio", name=choice).check()
    tab.get_by_role("button", name="Send").click()


def test_a_computer_that_sleeps_and_a_second_tab(
    lesson: LessonServer, open_tab: Callable[[], Page]
) -> None:
    tab = open_tab()
    answer(tab, "It bends up.")
    expect(tab.get_by_text(ARRIVED)).to_be_visible(timeout=PATIENCE)
    lesson.process.send_signal(signal.SIGSTOP)
    tab.clock.fast_forward(70_000)
    told = tab.get_by_text("The teacher’s computer does not answer.")
    expect(told).to_be_visible(timeout=PATIENCE)
    expect(tab.get_by_text("Perhaps the computer sleeps")).to_be_visible()
    answer(tab, "It bends down.")
    expect(tab.get_by_text("Kept here until there is a connection.")).to_be_visible()
    assert len(lesson.kept()[0]) == 1
    lesson.process.send_signal(signal.SIGCONT)
    tab.clock.fast_forward(10_000)  # it tries again by itself, at most so much later
    expect(tab.get_by_text(ARRIVED)).to_be_visible(timeout=PATIENCE)
    expect(told).to_be_hidden()
    assert len(lesson.kept()[0]) == 2

    other = open_tab()
    for each in (tab, other):
        expect(each.get_by_text("This lesson is open in two tabs.")).to_be_visible()
    answer(other, "It goes straight on.")
    expect(other.get_by_text(ARRIVED)).to_be_visible(timeout=PATIENCE)
    learners = {learner for learner, _ in lesson.kept()[0]}
    assert len(learners) == 1
