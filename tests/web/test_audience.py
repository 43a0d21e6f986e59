"""The audience's window in a real browser: large, in step with the desk, steered from it.

That the picture takes at least 60 % of the window is a rule of the project. How high figures must
be is that of ISO 9241-303, from memory: 16 minutes of arc, here from 0.291 mrad a minute.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, expect
from visitor import PATIENCE, Bench, Server

pytestmark = pytest.mark.browser

SIXTEEN_MINUTES = 16 * 0.2909e-3  # rad
STATE = "document.getElementById('canvas').glowtrace"
GLOW = """() => {
  const canvas = document.getElementById("canvas");
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  let [count, y] = [0, 0];
  for (let i = 0; i < data.length; i += 4) {
    if (data[i + 2] - data[i] < 40) continue;
    count += 1;
    y += Math.floor(i / 4 / canvas.width);
  }
  return [count, y / count];
}"""
SHARE = """() => {
  const { width, height } = document.getElementById("canvas").getBoundingClientRect();
  return (width * height) / (innerWidth * innerHeight);
}"""
FIGURE = """() => {
  const style = getComputedStyle(document.querySelector("dd"));
  const context = document.createElement("canvas").getContext("2d");
  context.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
  return context.measureText("0").actualBoundingBoxAscent / screen.width;
}"""


@pytest.fixture
def open_window(browser: Browser, server: Server) -> Iterator[Callable[..., Page]]:
    """Open an audience window of its own, as on another screen."""
    contexts = []

    def open_it(width: int = 1366, height: int = 768) -> Page:
        size = {"width": width, "height": height}
        context = browser.new_context(viewport=size, screen=size)
        contexts.append(context)
        window = context.new_page()
        window.set_default_timeout(PATIENCE)
        window.goto(server.address + "audience/")
        wait_for(window, f"{STATE}?.resting")
        return window

    yield open_it
    for context in contexts:
        context.close()


def wait_for(window: Page, claim: str, value: object = None) -> None:
    """Wait until a claim about the window holds; its policy lets no text be run inside of it."""
    end = time.monotonic() + PATIENCE / 1e3
    while not window.evaluate(claim, value):
        assert time.monotonic() < end, f"never held: {claim}"
        window.wait_for_timeout(50)


def in_step(bench: Bench, window: Page) -> None:
    """Wait until the window shows the picture of the resting desk."""
    number = bench.wait_for_rest()
    wait_for(window, f"number => {STATE}.number >= number", number)


def strip(bench: Bench) -> None:
    bench.page.locator("details.audience-strip").evaluate("strip => { strip.open = true; }")


@pytest.mark.parametrize(
    ("name", "width", "height"),
    [
        ("deflection tube", 1366, 768),
        ("fine-beam bulb", 1920, 1080),
        pytest.param("fine-beam bulb", 1366, 768, marks=pytest.mark.thorough),
        pytest.param("deflection tube", 1920, 1080, marks=pytest.mark.thorough),
        pytest.param("axial coil tube", 1366, 768, marks=pytest.mark.thorough),
        pytest.param("axial coil tube", 1920, 1080, marks=pytest.mark.thorough),
    ],
)
def test_picture_and_letters_are_large(
    open_bench: Callable[..., Bench],
    open_window: Callable[..., Page],
    name: str,
    width: int,
    height: int,
) -> None:
    bench = open_bench(f"?bench=ready-made/{name}&light.away=12.0")
    strip(bench)
    window = open_window(width, height)
    in_step(bench, window)
    assert window.evaluate(SHARE) >= 0.6
    assert window.evaluate("document.documentElement.scrollHeight") <= height
    expect(bench.page.get_by_text("Letters are read from 12 m.")).to_be_visible()
    # The picture is 2 m wide; a pixel of the browser's rounding is 2 % of a figure.
    assert window.evaluate(FIGURE) * 2.0 >= 0.98 * SIXTEEN_MINUTES * 12.0
    boxes = window.locator("dd").evaluate_all(
        "all => all.map(each => each.getBoundingClientRect()).map(b => [b.right, b.bottom])"
    )
    assert all(right <= width and bottom <= height for right, bottom in boxes)


@pytest.mark.thorough
def test_a_hall_that_is_too_deep_is_told(bench: Bench, open_window: Callable[..., Page]) -> None:
    window = open_window()
    strip(bench)
    bench.page.get_by_label("Last row").fill("60")
    bench.page.get_by_label("Last row").press("Enter")
    expect(bench.page.get_by_text("only, the last row is at 60 m")).to_be_visible()
    assert window.evaluate(SHARE) >= 0.6
    bench.page.get_by_label("Picture’s width").fill("0,1")
    bench.page.get_by_label("Picture’s width").press("Enter")
    expect(bench.page.get_by_text("give 0.2 m to 30 m")).to_be_visible()
    bench.page.get_by_label("Picture’s width").fill("12 m")
    bench.page.get_by_label("Picture’s width").press("Enter")
    expect(bench.page.get_by_text("Letters are read from 60 m.")).to_be_visible()


def test_it_follows_the_desk_and_comes_back_after_a_reload(
    bench: Bench, open_window: Callable[..., Page]
) -> None:
    window = open_window()
    in_step(bench, window)
    _, before = window.evaluate(GLOW)
    bench.do(lambda: bench.turn("Plate voltage", "PageUp", times=5))
    in_step(bench, window)
    count, after = window.evaluate(GLOW)
    assert count > 500
    assert after < before - 5
    shown = window.locator("dd").all_inner_texts()
    window.reload()
    wait_for(window, f"{STATE}?.resting")
    assert window.locator("dd").all_inner_texts() == shown
    assert window.evaluate(GLOW) == [count, after]


def test_blank_hold_and_look_from_the_desk_by_keys(
    bench: Bench, open_window: Callable[..., Page]
) -> None:
    window = open_window()
    strip(bench)
    bench.page.keyboard.press("b")
    expect(window.locator("dd").first).to_be_hidden()
    expect(bench.page.get_by_text("Audience: blank")).to_be_visible()
    bench.page.keyboard.press("b")
    expect(window.locator("dd").first).to_be_visible()
    in_step(bench, window)
    before = window.evaluate(GLOW)
    bench.page.keyboard.press("h")
    expect(bench.page.get_by_role("switch", name="Hold still")).to_be_checked()
    bench.do(lambda: bench.turn("Plate voltage", "Home"))
    assert window.evaluate(GLOW) == before
    bench.page.keyboard.press("h")
    in_step(bench, window)
    assert window.evaluate(GLOW)[1] > before[1] + 5
    bench.choose("Look", "light")
    expect(window.locator("html.is-light")).to_be_attached()
    wait_for(
        window,
        """() => {
          const canvas = document.getElementById("canvas");
          const [red] = canvas.getContext("2d").getImageData(2, 2, 1, 1).data;
          return red > 240;
        }""",
    )
    bench.choose("Look", "dark")


@pytest.mark.thorough
def test_pointing_shows_a_ring_where_the_hand_is(
    bench: Bench, open_window: Callable[..., Page]
) -> None:
    window = open_window()
    in_step(bench, window)
    strip(bench)
    ring = window.locator(".pointer")
    bench.page.keyboard.press("p")
    face = bench.page.locator(".screen canvas").bounding_box()
    assert face is not None
    middle = face["x"] + face["width"] / 2, face["y"] + face["height"] / 2
    bench.page.mouse.move(*middle)
    expect(ring).to_be_visible()
    before = ring.bounding_box()
    bench.page.mouse.move(middle[0] + 50, middle[1] - 40)
    wait_for(window, "y => document.querySelector('.pointer').getBoundingClientRect().y < y - 20",
             before and before["y"])  # fmt: skip
    after = ring.bounding_box()
    # Both windows show the whole screen in one scale across and up.
    assert before is not None
    assert after is not None
    assert (after["x"] - before["x"]) / (before["y"] - after["y"]) == pytest.approx(1.25, rel=0.05)
    bench.page.keyboard.press("p")
    expect(ring).to_be_hidden()
    bench.page.keyboard.press("p")
    bench.page.locator(".screen canvas").focus()
    bench.page.keyboard.press("ArrowUp")
    expect(ring).to_be_visible()
    bench.page.keyboard.press("p")


def test_the_button_opens_a_window_of_its_own(bench: Bench) -> None:
    strip(bench)
    with bench.page.context.expect_page() as opened:
        bench.page.get_by_role("button", name="Open the audience’s window").click()
    window = opened.value
    wait_for(window, f"{STATE}?.resting")
    assert window.evaluate("window.opener") is None
    expect(bench.page.get_by_text("Letters are read from")).to_be_visible()
    window.keyboard.press("b")
    expect(bench.page.get_by_text("Audience: blank")).to_be_visible()
    window.keyboard.press("b")
    window.keyboard.press("f")
    expect(window.get_by_role("button", name="Full screen")).to_be_hidden()
    window.close()
    expect(bench.page.get_by_text("No window is open")).to_be_visible()
