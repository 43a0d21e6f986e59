"""How fast the page follows a knob: pictures a second and knob-to-pixel time in a real browser.

A server of its own, headless Chromium without a graphics card, a slider that moves in every frame
of the browser for some seconds. Times are the browser's own: from the turn of the knob to the end
of the drawing of its picture. Each bench is shown in full darkness and as in its room, which should
cost little: the ratio of the two rates stands beside them. Run with ``python
benchmarks/page_rate.py``.
"""

from __future__ import annotations

import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, Page, sync_playwright
from rich.console import Console
from rich.table import Table

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-software-rasterizer",  # no emulated graphics card either: it takes half the machine
    "--disable-background-networking",
    "--disable-sync",
]
SECONDS = 5
KNOBS = {
    "deflection tube": "Plate voltage",
    "fine-beam bulb": "Coil current",
    "axial coil tube": "Coil current",
}
LOOKS = {"dark": "", "room": "&shown=room"}
CANVAS = "document.querySelector('.screen canvas')"
FIRST = f"{CANVAS}?.glowtrace?.frames > 0"
SWEEP = """([knob, seconds]) => new Promise((resolve) => {
  const slider = document.querySelector(`input[type=range][aria-label="${knob}"]`);
  const canvas = document.querySelector(".screen canvas");
  const [low, high] = [Number(slider.min), Number(slider.max)];
  const latencies = [];
  const begin = performance.now();
  let seen = canvas.glowtrace.number;
  const step = (now) => {
    if (canvas.glowtrace.number !== seen) {
      seen = canvas.glowtrace.number;
      latencies.push(canvas.glowtrace.latency_ms);
    }
    if (now - begin > 1000 * seconds) return resolve(latencies);
    const part = 0.3 + 0.25 * Math.sin((now - begin) / 400);
    slider.value = low + part * (high - low);
    slider.dispatchEvent(new Event("input", { bubbles: true }));
    requestAnimationFrame(step);
  };
  requestAnimationFrame(step);
})"""


@contextmanager
def served() -> Iterator[str]:
    """Serve the page from a process of its own and give its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    program = f"from glowtrace.web.page import open_page; open_page(serve=True, port={port})"
    with tempfile.TemporaryDirectory() as data:
        environment = {**os.environ, "GLOWTRACE_DATA": data}
        server = subprocess.Popen([sys.executable, "-c", program], env=environment)
        try:
            while True:
                with socket.socket() as trial:
                    if trial.connect_ex(("127.0.0.1", port)) == 0:
                        break
                time.sleep(0.05)
            yield f"http://127.0.0.1:{port}/"
        finally:
            server.terminate()
            server.wait()


def open_bench(browser: Browser, address: str, query: str) -> tuple[Page, float]:
    """Open the page with a bench; give it with the seconds until its first picture stood there."""
    page = browser.new_page(viewport={"width": 1400, "height": 900})
    begin = time.perf_counter()
    page.goto(f"{address}?{query}")
    page.wait_for_function(FIRST, timeout=120_000, polling=10)
    took = time.perf_counter() - begin
    page.wait_for_function(f"{CANVAS}.glowtrace.resting", timeout=120_000)
    return page, took


def main() -> None:
    table = Table(title=f"The page while a knob turns for {SECONDS} s")
    table.add_column("bench")
    table.add_column("shown")
    for heading in ("first / s", "pictures / s", "median / ms", "95 % / ms", "ratio"):
        table.add_column(heading, justify="right")
    with served() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for bench in KNOBS:  # once before the clock runs: fields built, code compiled
            open_bench(browser, address, f"bench=ready-made/{bench}")[0].close()
        for bench, knob in KNOBS.items():
            dark_rate = None
            for look, query in LOOKS.items():
                page, first = open_bench(browser, address, f"bench=ready-made/{bench}{query}")
                latencies = page.evaluate(SWEEP, [knob, SECONDS])
                page.close()
                rate = len(latencies) / SECONDS
                dark_rate = dark_rate or rate
                table.add_row(
                    bench,
                    look,
                    f"{first:.2f}",
                    f"{rate:.0f}",
                    f"{statistics.median(latencies):.0f}",
                    f"{statistics.quantiles(latencies, n=20)[-1]:.0f}",
                    f"{rate / dark_rate:.2f}",
                )
        browser.close()
    Console().print(table)


if __name__ == "__main__":
    main()
