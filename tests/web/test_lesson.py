"""A lesson in browsers: the desk, phones that predict, and what the desk makes of it.

Which way the line bends is that of F = q v x B with the electron's charge (any textbook): up for a
current that makes B point to the audience. axe-core's rules are most of them after WCAG 2.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from urllib.parse import urlparse

import pytest
from playwright.sync_api import Browser, Locator, Page, expect
from visitor import PATIENCE, Bench, Server, grave

pytestmark = [pytest.mark.browser, pytest.mark.slow]

QUERY = "lesson?bench=ready-made/deflection+tube&accelerating_voltage=3000&coil_current=0.3"
PHONE = {"width": 390, "height": 844}


@pytest.fixture
def own_server(tmp_path) -> Iterator[Server]:
    server = Server(tmp_path)
    yield server
    server.kill()


@pytest.fixture
def open_window(browser: Browser) -> Iterator[Callable[..., Page]]:
    contexts = []

    def open_it(address: str, **size) -> Page:
        context = browser.new_context(viewport=size or {"width": 1366, "height": 768})
        contexts.append(context)
        page = context.new_page()
        page.goto(address)
        return page

    yield open_it
    for context in contexts:
        context.close()


def open_lesson(desk: Page) -> str:
    """Open a lesson at the last step of the sheet; give the address that phones go to."""
    expect(desk.get_by_text("Step 1 of")).to_be_visible(timeout=PATIENCE)
    desk.get_by_role("button", name="Open", exact=True).click()
    code = desk.locator(".lesson-code")
    expect(code).to_have_text(re.compile(r"^\w{3} \w{3}$"), timeout=PATIENCE)
    steps = int(desk.get_by_text("Step 1 of").inner_text().split()[-1])
    for _ in range(steps - 1):
        desk.get_by_role("button", name="Next").click()
    expect(desk.get_by_text(f"Step {steps} of {steps}")).to_be_visible(timeout=PATIENCE)
    address = desk.locator(".lesson-address").inner_text()
    return f"http://{address}/{code.inner_text().replace(' ', '')}"


def draw(phone: Page, height: float) -> None:
    """Draw a parabola from the middle of the left edge; height in parts of the screen's."""
    box = phone.locator("#screen").bounding_box()
    assert box is not None
    x0, y0 = box["x"] + 20, box["y"] + box["height"] / 2
    phone.mouse.move(x0, y0)
    phone.mouse.down()
    for step in range(1, 25):
        part = step / 24
        y = y0 - height * box["height"] * part**2
        phone.mouse.move(x0 + part * (box["width"] - 60), y)
    phone.mouse.up()


def send(phone: Page) -> None:
    phone.get_by_role("button", name="Send").click()
    expect(phone.get_by_text("Your answer has arrived")).to_be_visible(timeout=PATIENCE)


def test_phones_predict_and_the_desk_groups_them(own_server: Server, open_window) -> None:
    desk = open_window(own_server.address + QUERY)
    address = open_lesson(desk)
    phones = [open_window(address, **PHONE) for _ in range(3)]
    expect(desk.get_by_text("3 here")).to_be_visible(timeout=PATIENCE)
    assert grave(desk) == []
    desk.get_by_role("button", name="Ask for predictions").click()
    for phone, height in zip(phones[:2], (0.42, -0.42), strict=True):
        expect(phone.locator("#screen")).to_be_visible(timeout=PATIENCE)
        draw(phone, height)
        send(phone)
    # The third one by the keyboard alone.
    phones[2].get_by_role("radio").first.focus()
    phones[2].keyboard.press("ArrowDown")
    expect(phones[2].get_by_role("radio", name="It bends down.")).to_be_checked()
    phones[2].keyboard.press("Enter")
    expect(phones[2].get_by_text("Your answer has arrived")).to_be_visible(timeout=PATIENCE)
    assert grave(phones[0]) == []
    groups = desk.get_by_role("list", name="Answers by meaning").get_by_role("listitem")
    expect(groups).to_have_count(2, timeout=PATIENCE)
    expect(groups.first).to_contain_text("2the wrong way")
    expect(groups.first).to_contain_text("the electrons fly like the current")

    phones[1].context.set_offline(True)
    own_server.kill()
    own_server.start()
    advice = phones[1].get_by_text("in the same Wi-Fi as the teacher’s computer")
    expect(advice).to_be_visible(timeout=PATIENCE)
    assert grave(phones[1]) == []
    phones[1].context.set_offline(False)
    expect(advice).to_be_hidden(timeout=PATIENCE)
    draw(phones[0], 0.42)
    phones[0].get_by_role("button", name="Send").click()
    expect(phones[0].get_by_text("Your answer has arrived")).to_be_visible(timeout=PATIENCE)
    desk.goto(own_server.address + QUERY)
    expect(groups).to_have_count(2, timeout=PATIENCE)
    expect(groups.first).to_contain_text("2the wrong way")
    expect(desk.get_by_text("3 here")).to_be_visible(timeout=PATIENCE)  # all have come back
    code = desk.locator(".lesson-code")
    first_code = code.inner_text()
    phones[2].goto("about:blank")  # away while the lesson ends
    desk.get_by_role("button", name="End the lesson").click()
    expect(phones[1].get_by_text("This lesson is over.")).to_be_visible(timeout=PATIENCE)
    expect(desk.get_by_role("button", name="Open", exact=True)).to_be_visible(timeout=PATIENCE)
    phones[2].goto(address)
    expect(phones[2].get_by_text("This lesson is over.")).to_be_visible(timeout=PATIENCE)
    # The next lesson has the port, and a code of its own.
    desk.get_by_role("button", name="Open", exact=True).click()
    # Its port answers once the desk shows the new code; the old one stood there, hidden.
    expect(code).not_to_have_text(first_code, timeout=PATIENCE)
    expect(code).to_have_text(re.compile(r"^\w{3} \w{3}$"), timeout=PATIENCE)
    assert urlparse(address).netloc == desk.locator(".lesson-address").inner_text()
    phones[2].goto(address)
    expect(phones[2].get_by_text("No lesson has this code.")).to_be_visible(timeout=PATIENCE)


def test_a_phone_is_the_remote_and_another_computer_shows_the_picture(
    own_server: Server, open_window: Callable[..., Page]
) -> None:
    desk = open_window(own_server.address + QUERY)
    learners = urlparse(open_lesson(desk)).netloc
    remote_address = desk.locator(".lesson-qr[aria-label*='/remote/']").get_attribute("aria-label")
    here = int(desk.get_by_text(re.compile(r"Step \d+ of")).inner_text().split()[1]) - 1
    remote = open_window(remote_address or "", **PHONE)
    remote.get_by_role("button", name="Back").click()
    expect(desk.get_by_text(f"Step {here} of")).to_be_visible()
    desk.get_by_role("button", name="Show its picture to the audience").click()
    screen = open_window(desk.locator(".lesson-screen").text_content() or "")
    expect(screen.locator("dd").first).to_be_visible(timeout=PATIENCE)
    assert grave(remote) == grave(screen) == []
    assert {urlparse(each.url).netloc for each in (remote, screen)} == {learners}
    expect(screen.locator("#invitation")).to_be_visible()
    remote.get_by_role("button", name="Next").click()
    expect(desk.get_by_text(f"Step {here + 1} of")).to_be_visible()
    remote.get_by_role("button", name="Blank").click()
    expect(screen.locator(".stage")).to_be_hidden()
    screen.keyboard.press("b")  # only the desk and its remote bring it back
    screen.wait_for_timeout(300)
    expect(screen.locator(".stage")).to_be_hidden()
    remote.get_by_role("button", name="Blank").click()
    expect(screen.locator(".stage")).to_be_visible()
    assert remote.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    own_server.kill()
    remote.get_by_role("button", name="Next").click()
    expect(remote.get_by_text("The desk cannot be reached")).to_be_visible()


@pytest.mark.thorough
def test_the_hall_is_that_of_the_last_time_after_a_restart(
    own_server: Server, open_window: Callable[..., Page]
) -> None:
    shown = {"Last row": re.compile(r"^12(\.0)? m$"), "Picture’s width": re.compile(r"^3.5 m$")}

    def field(desk: Page, label: str) -> Locator:
        strip = desk.locator("details.audience-strip")
        strip.evaluate("strip => { strip.open = true; }")
        return strip.get_by_label(label)

    desk = open_window(own_server.address)
    Bench(desk).wait_for_rest()  # what is typed before the page is whole is not heard
    for label, typed in zip(shown, ("12", "3,5"), strict=True):
        field(desk, label).fill(typed)
        field(desk, label).press("Enter")
        expect(field(desk, label)).to_have_value(shown[label], timeout=PATIENCE)
    own_server.kill()
    own_server.start()
    desk = open_window(own_server.address)
    for label, value in shown.items():
        expect(field(desk, label)).to_have_value(value, timeout=PATIENCE)
    # An address that tells of a bench tells of its hall as well.
    desk.goto(own_server.address + QUERY)
    expect(field(desk, "Last row")).to_have_value(re.compile(r"^6(\.0)? m$"), timeout=PATIENCE)
