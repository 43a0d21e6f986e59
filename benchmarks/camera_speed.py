"""How fast the page Camera reads a live picture: answers a second, and from light to overlay.

A server of its own, and headless Chromium without a graphics card with a simulated camera, which
plays a made-up film of 1280 x 720 with a shaking hand as Motion JPEG, 30 frames a second, as a
camera on a cable gives it. Times are the browser's own: from when the camera gave a picture to
when the canvas with the line over that picture was drawn. Exposure and the cable come on top. First
with the knobs at rest, then while one is turned all the time. Run with ``python
benchmarks/camera_speed.py [seconds]``; 10 s each when left out.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any, Final

from PIL import Image
from playwright.sync_api import Page, sync_playwright
from rich.console import Console
from rich.table import Table

from film_rendering import RenderedFilm
from page_rate import CHROMIUM, FLAGS, served

FRAMES: Final = 90
BENCH: Final = "bench=ready-made/deflection tube&accelerating_voltage=3000&plate_voltage=500"
KNOB: Final = "Plate voltage"
FACE: Final = "document.querySelector('.camera-face canvas').glowtrace"
MEASURE: Final = """([seconds, knob]) => new Promise((resolve) => {
  const canvas = document.querySelector(".camera-face canvas");
  const slider = document.querySelector(`input[type=range][aria-label="${knob}"]`);
  const begin = performance.now();
  const first = canvas.glowtrace.answered;
  const step = (now) => {
    if (now - begin > 1000 * seconds) {
      const { answered, ms, state } = canvas.glowtrace;
      return resolve({ count: answered - first, ms: ms.slice(first - answered), state });
    }
    if (slider) {
      const [low, high] = [Number(slider.min), Number(slider.max)];
      slider.value = low + (0.3 + 0.25 * Math.sin((now - begin) / 400)) * (high - low);
      slider.dispatchEvent(new Event("input", { bubbles: true }));
    }
    requestAnimationFrame(step);
  };
  requestAnimationFrame(step);
})"""


def write_camera_film(path: Path) -> None:
    """Write the film that the simulated camera plays, over and over."""
    film = RenderedFilm(size=(1280, 720), count=FRAMES, rate=30.0, seconds=FRAMES / 30.0)
    with path.open("wb") as file:
        for pixels in film.frames():
            Image.fromarray(pixels).save(file, "JPEG", quality=90)


def look(page: Page, address: str) -> None:
    """Start the camera and find the screen in its picture."""
    page.goto(f"{address}camera?{BENCH}")
    page.get_by_role("button", name="Start the camera").click()
    page.get_by_text("Find the grid, or click").wait_for(timeout=120_000)
    page.get_by_role("button", name="Find the grid").click()
    page.wait_for_function(f"{FACE}?.state === 'followed'", timeout=120_000)
    page.wait_for_timeout(2000)


def main(seconds: float = 10.0) -> None:
    table = Table(title=f"A camera of 1280 x 720, {seconds:g} s each")
    table.add_column("knobs")
    for heading in ("answers / s", "light to overlay, median / ms", "95 % / ms"):
        table.add_column(heading, justify="right")
    table.add_column("at last")
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as folder, served() as address, sync_playwright() as started:
        film = Path(folder, "camera.mjpeg")
        write_camera_film(film)
        browser = started.chromium.launch(
            executable_path=CHROMIUM,
            args=[*FLAGS, "--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream",
                  f"--use-file-for-fake-video-capture={film}"],
        )  # fmt: skip
        page = browser.new_page(viewport={"width": 1400, "height": 900})
        look(page, address)
        for name, knob in (("at rest", ""), ("turning", KNOB)):
            found: Any = page.evaluate(MEASURE, [seconds, knob])
            table.add_row(
                name,
                f"{found['count'] / seconds:.1f}",
                f"{statistics.median(found['ms']):.0f}",
                f"{statistics.quantiles(found['ms'], n=20)[-1]:.0f}",
                found["state"],
            )
        browser.close()
    Console().print(table)
    print(f"load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
