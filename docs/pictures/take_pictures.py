"""Take the pictures of the tutorial and the README: the tutorial done in a real browser.

`python3 tasks.py pictures` writes docs/pictures/*.png anew. Each step of the tutorial is done here
in the same order, so that a page that has changed makes this fail or shows in the pictures.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, ViewportSize, expect, sync_playwright

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent.parent / "tests" / "web"))

from visitor import PATIENCE, Bench, Server, go  # type: ignore[import-not-found]  # noqa: E402

SIZE: ViewportSize = {"width": 1280, "height": 800}
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-software-rasterizer"]
COLOURS = 96
"""A page of few colours needs no more, and a picture of 40 kB instead of 200."""


def main() -> int:
    """Serve the page with nothing saved, walk through the tutorial, and keep its pictures."""
    with tempfile.TemporaryDirectory() as data, sync_playwright() as playwright:
        server = Server(Path(data))
        try:
            chromium = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=QUIET)
            page = chromium.new_page(viewport=SIZE, reduced_motion="reduce")
            page.set_default_timeout(PATIENCE)
            walk(page, server.address)
            chromium.close()
        finally:
            server.kill()
    return 0


def walk(page: Page, address: str) -> None:
    """Do the tutorial."""
    bench = Bench(page)
    page.goto(address)
    bench.wait_for_rest()
    keep(page, "rehearse")

    bench.do(lambda: bench.choose("Polarity", "reversed"))
    bench.do(lambda: bench.turn("Coil current", "PageUp", times=2))
    keep(page, "both-fields")

    go(page, "Plan")
    page.get_by_role("radio", name="Straighten the beam").check()
    page.get_by_role("button", name="Find").click()
    best = page.get_by_role("region", name="Answer 1 of")
    expect(best).to_be_visible(timeout=PATIENCE)
    best.scroll_into_view_if_needed()
    keep(page, "plan")
    best.get_by_role("link", name="Rehearse this").click()
    bench.wait_for_rest()
    keep(page, "null")

    for step in ("Wiring", "Safety", "Light", "Explain"):
        go(page, step)
        page.wait_for_timeout(1000)  # what takes long has begun
        expect(page.get_by_role("progressbar")).to_have_count(0, timeout=PATIENCE)
        keep(page, step.lower())


def keep(page: Page, name: str) -> None:
    """Save what the window shows."""
    page.wait_for_timeout(400)  # what fades in has come
    shown = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    few = shown.quantize(COLOURS, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    few.save(HERE / f"{name}.png", optimize=True)
    print(f"{name}.png: {(HERE / f'{name}.png').stat().st_size / 1e3:.0f} kB")


if __name__ == "__main__":
    sys.exit(main())
