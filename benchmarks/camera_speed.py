"""How fast the page Camera reads a live picture: answers a second, and from light to overlay.

A server of its own, and headless Chromium without a graphics card with a simulated camera, which
plays made-up pictures as Motion JPEG, 30 frames a second, as a camera on a cable gives them: a film
of a line, 1280 x 720, with a shaking hand, with the knobs at rest, then with one that is turned all
the time, then shown to the audience as well; and standing pictures, 1280 x 960, of a circle in gas
and of a spot. Times are the browser's own: from when the camera gave a picture to when the canvas
with what was read in that picture was drawn. Exposure and the cable come on top. Lines of any shape
are read beside that, at the rate in the last column. Run with ``python benchmarks/camera_speed.py
[seconds]``; 10 s each when left out.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from PIL import Image
from playwright.sync_api import Page, Playwright, sync_playwright
from rich.console import Console
from rich.table import Table

from film_rendering import RenderedFilm
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.web.measure.invented_photograph import invented_photograph
from page_rate import CHROMIUM, FLAGS, served

FRAMES: Final = 90
LINE: Final = "bench=ready-made/deflection tube&accelerating_voltage=3000&plate_voltage=500"
KNOB: Final = "Plate voltage"
STANDING: Final = {
    "circle in gas": ("fine-beam bulb", Settings(accelerating_voltage=200.0, coil_current=1.5)),
    "spot": ("axial coil tube", Settings(accelerating_voltage=800.0, coil_current=0.5)),
}
FACE: Final = "document.querySelector('.camera-face canvas').glowtrace"
MEASURE: Final = """([seconds, knob]) => new Promise((resolve) => {
  const canvas = document.querySelector(".camera-face canvas");
  const slider = document.querySelector(`input[type=range][aria-label="${knob}"]`);
  const begin = performance.now();
  const first = canvas.glowtrace.answered;
  const step = (now) => {
    if (now - begin > 1000 * seconds) {
      const { answered, ms, state, rate } = canvas.glowtrace;
      return resolve({ count: answered - first, ms: ms.slice(first - answered), state, rate });
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


@contextmanager
def looking(started: Playwright, film: Path, address: str) -> Iterator[Page]:
    """Give a page whose camera plays a film and has found the screen in it."""
    browser = started.chromium.launch(
        executable_path=CHROMIUM,
        args=[*FLAGS, "--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream",
              f"--use-file-for-fake-video-capture={film}"],
    )  # fmt: skip
    page = browser.new_page(viewport={"width": 1400, "height": 900})
    page.goto(address)
    page.get_by_role("button", name="Start the camera").click()
    page.get_by_text("Find the grid, or click").wait_for(timeout=120_000)
    page.get_by_role("button", name="Find the grid").click()
    page.wait_for_function(f"{FACE}?.state === 'followed'", timeout=120_000)
    page.wait_for_timeout(3000)
    yield page
    browser.close()


def measured(page: Page, name: str, seconds: float, knob: str = "") -> tuple[str, ...]:
    """Give a row of the table: what came in some seconds, while a named knob is turned."""
    found: Any = page.evaluate(MEASURE, [seconds, knob])
    return (
        name,
        f"{found['count'] / seconds:.1f}",
        f"{statistics.median(found['ms']):.0f}",
        f"{statistics.quantiles(found['ms'], n=20)[-1]:.0f}",
        found["state"],
        f"{found['rate']:.1f} /s" if found["rate"] else "each picture",
    )


def main(seconds: float = 10.0) -> None:
    table = Table(title=f"A live camera, {seconds:g} s each; times from light to overlay")
    table.add_column("seen")
    for heading in ("answers / s", "median / ms", "95 % / ms"):
        table.add_column(heading, justify="right")
    table.add_column("at last")
    table.add_column("glow read")
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as folder, served() as address, sync_playwright() as started:
        film = Path(folder, "camera.mjpeg")
        write_camera_film(film)
        with looking(started, film, f"{address}camera?{LINE}") as page:
            table.add_row(*measured(page, "line, knobs at rest", seconds))
            table.add_row(*measured(page, "line, a knob turning", seconds, KNOB))
            page.get_by_role("switch", name="Show it to the audience").click()
            with page.context.browser.new_page() as window:  # type: ignore[union-attr]
                window.goto(f"{address}audience/")
                window.wait_for_timeout(1000)
                table.add_row(*measured(page, "line, shown to the audience", seconds))
        for name, (bench, settings) in STANDING.items():
            film.write_bytes(10 * invented_photograph(prepare(ready_made(bench)), settings).content)
            knobs = "&".join(
                f"{knob}={getattr(settings, knob)}"
                for knob in ("accelerating_voltage", "coil_current")
            )
            there = f"{address}camera?bench=ready-made/{bench}&{knobs}"
            with looking(started, film, there) as page:
                table.add_row(*measured(page, name, seconds))
    Console(width=110).print(table)
    print(f"load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
