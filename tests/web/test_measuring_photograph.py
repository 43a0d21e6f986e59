"""A photograph of which everything is known goes through the page and comes out as readings."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from visitor import PATIENCE, Server

from glowtrace.bench.layout import bench_view
from glowtrace.bench.ready_made import ready_made
from glowtrace.measure.grid_lines import printed_grid
from glowtrace.measure.synthetic import Camera, Conditions, CurveLight, take_photograph

pytestmark = pytest.mark.browser

TUBE = "measure?bench=ready-made%2Fdeflection+tube&accelerating_voltage=3000.0&coil_current=0.15"
CURVATURE = 1.7
"""Of the made-up line v = CURVATURE u^2, per m: chosen, not computed by any model."""
CAMERA = Camera(
    aim=(0.057, 0.0), distance=0.16, turn=0.06, roll=0.02, focal_length=1100.0, size=(1000, 700)
)
FACE = ".photo-face canvas"


@pytest.fixture(scope="module")
def photograph(tmp_path_factory: pytest.TempPathFactory) -> Path:
    bench = ready_made("deflection tube")
    u = np.linspace(0.012, 0.104, 400)
    light = CurveLight(np.column_stack([u, CURVATURE * u**2]), 0.5e-3)
    how = Conditions(grid_pitch=bench.screen.grid_pitch, room_light=0.03, jpeg_quality=None)
    taken = take_photograph(light, CAMERA, bench_view(bench).rectangle, how)
    file = io.BytesIO()
    Image.fromarray(taken.pixels).save(file, "PNG")
    path = tmp_path_factory.mktemp("photograph") / "line.png"
    path.write_bytes(file.getvalue())
    return path


@pytest.fixture
def page(browser: Browser, server: Server, photograph: Path) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1400, "height": 900})
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    page.goto(server.address + TUBE)
    page.get_by_role("button", name="From a photograph").click()
    page.locator(".photograph input[type=file]").set_input_files(photograph)
    page.wait_for_function(f"document.querySelector('{FACE}').glowtrace")
    yield page
    context.close()


def drawn(page: Page, what: str) -> int:
    return int(page.evaluate(f"document.querySelector('{FACE}').glowtrace.{what}"))


def wait_until(page: Page, what: str) -> None:
    page.wait_for_function(
        f"(({{grid, line}}) => {what})(document.querySelector('{FACE}').glowtrace)"
    )


def click_corners(page: Page) -> None:
    """Click the four outer crossings where the camera, and not the page, has them."""
    grid = printed_grid(ready_made("deflection tube"))
    u, v = grid.u, grid.v
    corners = [(u[0], v[0]), (u[-1], v[0]), (u[-1], v[-1]), (u[0], v[-1])]
    box = page.locator(FACE).bounding_box()
    assert box is not None
    scale = box["width"] / CAMERA.size[0]
    for n, (column, row) in enumerate(CAMERA.pixels(corners), start=1):
        page.locator(FACE).click(position={"x": (column + 0.5) * scale, "y": (row + 0.5) * scale})
        wait_until(page, f"grid === {n}")


def test_four_clicks_lead_to_readings_on_the_line(page: Page) -> None:
    click_corners(page)
    expect(page.get_by_text("The screen is found")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("button", name="Find the line").click()
    wait_until(page, "line > 20")
    page.get_by_role("button", name="Use these points").click()
    expect(page.get_by_text("25 rows count.")).to_be_visible(timeout=PATIENCE)
    texts = page.locator(".cells input").evaluate_all("inputs => inputs.map((each) => each.value)")
    cells = [text.partition("(")[0] for text in texts]
    x, y = (np.array(cells[n::4], dtype=float) / 1e3 for n in (0, 1))
    assert set(cells[2::4]) == {"3000"}
    assert set(cells[3::4]) == {"0.15"}
    # x is read along the grid of the sheet, which stands at 6 degrees to the beam.
    assert np.abs(y - CURVATURE * x**2).max() < 0.2e-3
    assert np.ptp(x) > 0.07


def test_points_are_moved_and_removed_by_keyboard(page: Page) -> None:
    page.locator(FACE).focus()
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("Enter")
    wait_until(page, "grid === 1")
    page.keyboard.press("Enter")  # takes hold of the point under the cross
    page.keyboard.press("Delete")
    wait_until(page, "grid === 0")
    click_corners(page)
    page.get_by_role("button", name="Find the line").click()
    wait_until(page, "line > 20")
    count = drawn(page, "line")
    expect(page.locator(".photograph .untold")).to_contain_text(f"Line: {count} points")
    place = page.evaluate(
        f"""() => {{
          const canvas = document.querySelector('{FACE}');
          return [canvas.clientWidth, canvas.clientHeight];
        }}"""
    )
    assert place[0] > 600
    u = 0.05
    column, row = CAMERA.pixels([(u, CURVATURE * u**2)])[0]
    scale = place[0] / CAMERA.size[0]
    page.locator(FACE).click(position={"x": (column + 0.5) * scale, "y": (row + 0.5) * scale})
    page.keyboard.press("Delete")
    expect(page.locator(".photograph .untold")).to_contain_text(f"Line: {count - 1} points")
    expect(page.locator(".photograph .untold")).to_contain_text("1 removed")


def test_what_is_no_photograph_is_refused_in_one_line(page: Page, tmp_path: Path) -> None:
    path = tmp_path / "words.png"
    path.write_text("no picture")
    page.locator(".photograph input[type=file]").set_input_files(path)
    expect(page.locator(".message")).to_contain_text(
        "not a photograph that can be read", timeout=PATIENCE
    )
