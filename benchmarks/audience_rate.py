"""How the audience's window follows the desk, and what it costs the desk.

A server of its own and one headless Chromium without a graphics card, as a machine where drawing
is dear. On the desk a knob moves in every frame for some seconds, first alone, then with an
audience's window opened as the desk's button does. Times are the browser's own: from the turn of
the knob on the desk to its picture on either window. Run with ``python
benchmarks/audience_rate.py``.
"""

from __future__ import annotations

import statistics
from typing import Any, Final

from playwright.sync_api import Page, sync_playwright
from rich.console import Console
from rich.table import Table

from page_rate import CHROMIUM, FLAGS, KNOBS, open_bench, served

SECONDS: Final = 5
AUDIENCE: Final = "document.getElementById('canvas')"
WATCH = """(canvas) => {
  window.seen = [];
  let last = -1;
  const step = () => {
    const number = canvas.glowtrace?.number;
    if (number !== undefined && number !== last) {
      last = number;
      seen.push([number, performance.timeOrigin + performance.now(), canvas.glowtrace.latency_ms]);
    }
    requestAnimationFrame(step);
  };
  step();
}"""
TURN = """([knob, seconds]) => new Promise((resolve) => {
  const slider = document.querySelector(`input[type=range][aria-label="${knob}"]`);
  const [low, high] = [Number(slider.min), Number(slider.max)];
  const begin = performance.now();
  seen.length = 0;
  const step = (now) => {
    if (now - begin > 1000 * seconds) return resolve(seen.slice());
    slider.value = low + (0.3 + 0.25 * Math.sin((now - begin) / 400)) * (high - low);
    slider.dispatchEvent(new Event("input", { bubbles: true }));
    requestAnimationFrame(step);
  };
  requestAnimationFrame(step);
})"""
Seen = list[tuple[int, float, float]]
"""Number of a picture, the clock when it stood there, and the time since the knob's turn, in ms."""


def watch(page: Page, canvas: str) -> None:
    """Have a page note when each picture stands on its canvas."""
    page.evaluate(f"({WATCH})({canvas})")


def open_window(desk: Page) -> Page:
    """Open the audience's window by the desk's own button."""
    desk.locator("details.audience-strip").evaluate("strip => { strip.open = true; }")
    with desk.context.expect_page() as opened:
        desk.get_by_role("button", name="Open the audience’s window").click()
    window = opened.value
    while not window.evaluate(f"{AUDIENCE}?.glowtrace?.resting"):
        window.wait_for_timeout(50)
    watch(window, AUDIENCE)
    return window


def turn(desk: Page, knob: str) -> Seen:
    """Turn a knob for a while and give what the desk showed."""
    seen: Any = desk.evaluate(TURN, [knob, SECONDS])
    desk.wait_for_timeout(700)
    return [tuple(each) for each in seen]


def follow(desk_seen: Seen, window_seen: Seen) -> tuple[list[float], list[float]]:
    """Give how much later than the desk the window showed pictures, and how long after the turn.

    Both in ms, for the pictures that stood on both: a window that is late leaves some out.
    """
    shown = {number: at for number, at, _ in window_seen}
    both = [(shown[number] - at, took) for number, at, took in desk_seen if number in shown]
    return [later for later, _ in both], [later + took for later, took in both if took]


def figures(times: list[float]) -> tuple[str, str]:
    """Write the median and the 95th percentile of some times."""
    if len(times) < 2:
        return "-", "-"
    return f"{statistics.median(times):.0f}", f"{statistics.quantiles(times, n=20)[-1]:.0f}"


def main() -> None:
    table = Table(title=f"Desk and audience while a knob turns for {SECONDS} s")
    table.add_column("bench")
    for heading in ("desk alone / s", "desk / s", "ratio", "audience / s", "later / ms", "95 %",
                    "turn to audience / ms", "95 %"):  # fmt: skip
        table.add_column(heading, justify="right")
    with served() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for bench, knob in KNOBS.items():
            desk, _ = open_bench(browser, address, f"bench=ready-made/{bench}")
            watch(desk, "document.querySelector('.screen canvas')")
            turn(desk, knob)  # once before it counts
            alone = turn(desk, knob)
            window = open_window(desk)
            window.evaluate("seen.length = 0")
            together = turn(desk, knob)
            window_seen: Any = window.evaluate("seen")
            later, took = follow(together, [tuple(each) for each in window_seen])
            table.add_row(
                bench,
                f"{len(alone) / SECONDS:.0f}",
                f"{len(together) / SECONDS:.0f}",
                f"{len(together) / max(1, len(alone)):.2f}",
                f"{len(later) / SECONDS:.0f}",
                *figures(later),
                *figures(took),
            )
            desk.context.close()
        browser.close()
    Console(width=130).print(table)


if __name__ == "__main__":
    main()
