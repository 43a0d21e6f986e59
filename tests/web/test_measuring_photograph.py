"""A photograph of which everything is known goes through the page and comes out as readings."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pillow_heif
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from visitor import PATIENCE, Server

from glowtrace.bench.model import Bench
from glowtrace.bench.ready_made import ready_made
from glowtrace.photographs.grid_lines import printed_grid
from glowtrace.photographs.synthetic import Camera, Conditions, CurveLight, Light, take_photograph

pytestmark = pytest.mark.browser

TUBE = "measure?bench=ready-made%2Fdeflection+tube&accelerating_voltage=3000.0&coil_current=0.15"
CURVATURE = 1.7
"""Of the made-up line v = CURVATURE u^2, per m: chosen, not computed by any model."""
CAMERA = Camera(
    aim=(0.057, 0.0), distance=0.16, turn=0.06, roll=0.02, focal_length=1100.0, size=(1000, 700)
)
BULB = "measure?bench=ready-made%2Ffine-beam+bulb&accelerating_voltage=200.0&coil_current=1.5"
RADIUS = 0.037
"""Of the made-up circle, which passes through the aperture, m: chosen."""
BEFORE_THE_BULB = Camera(
    aim=(0.0, 0.047), distance=0.5, turn=0.05, tilt=-0.04, focal_length=2300.0, size=(1000, 800)
)
FACE = ".photo-face canvas"


def image_of(light: Light, bench: Bench, camera: Camera) -> Image.Image:
    how = Conditions(grid_pitch=bench.screen.grid_pitch, room_light=0.03, jpeg_quality=None)
    taken = take_photograph(light, camera, bench.plane.rectangle, how)
    return Image.fromarray(taken.pixels)


@pytest.fixture(scope="module")
def photographs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with one line as a PNG, as a turned JPEG and as a HEIC, and a circle."""
    folder = tmp_path_factory.mktemp("photographs")
    u = np.linspace(0.012, 0.104, 400)
    light = CurveLight(np.column_stack([u, CURVATURE * u**2]), 0.5e-3)
    image = image_of(light, ready_made("deflection tube"), CAMERA)
    image.save(folder / "line.png")
    # The sensor lies on its side; 6 says: turn clockwise by a quarter to see it upright
    # (Exif 2.32, tag 0x0112 Orientation).
    exif = Image.Exif()
    exif[0x0112] = 6
    lying = image.transpose(Image.Transpose.ROTATE_90)
    lying.save(folder / "line.jpg", quality=95, exif=exif)
    pillow_heif.from_pillow(image).save(folder / "line.heic", quality=95)
    angle = np.linspace(0, 2 * math.pi, 600)
    circle = np.column_stack([np.cos(angle), 1 + np.sin(angle)]) * RADIUS
    bulb = image_of(CurveLight(circle, 0.9e-3), ready_made("fine-beam bulb"), BEFORE_THE_BULB)
    bulb.save(folder / "circle.jpg", quality=95)
    return folder


@pytest.fixture
def open_photograph(
    browser: Browser, server: Server, photographs: Path
) -> Iterator[Callable[..., Page]]:
    contexts = []

    def open_it(name: str = "line.png", path: str = TUBE, **how: Any) -> Page:
        context = browser.new_context(**{"viewport": {"width": 1400, "height": 900}} | how)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE)
        page.goto(server.address + path)
        page.get_by_role("button", name="From a photograph").click()
        page.locator(".photograph input[type=file]").set_input_files(photographs / name)
        page.wait_for_function(f"document.querySelector('{FACE}').glowtrace")
        return page

    yield open_it
    for context in contexts:
        context.close()


@pytest.fixture
def page(open_photograph: Callable[..., Page]) -> Page:
    return open_photograph()


def drawn(page: Page, what: str) -> int:
    return int(page.evaluate(f"document.querySelector('{FACE}').glowtrace.{what}"))


def wait_until(page: Page, what: str) -> None:
    page.wait_for_function(
        f"(({{grid, line, predicted}}) => {what})(document.querySelector('{FACE}').glowtrace)"
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


@pytest.mark.parametrize(
    "name",
    [
        "line.heic",
        *(pytest.param(n, marks=pytest.mark.thorough) for n in ("line.png", "line.jpg")),
    ],
)
def test_four_clicks_lead_to_readings_on_the_line(
    open_photograph: Callable[..., Page], name: str
) -> None:
    page = open_photograph(name)
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
    # x is read along the grid of the sheet, which stands at 7 degrees to the beam.
    assert np.abs(y - CURVATURE * x**2).max() < 0.2e-3
    assert np.ptp(x) > 0.07


@pytest.mark.thorough
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


def line_point(page: Page, u: float = 0.05) -> tuple[float, float]:
    """Give where on the window a place of the line is seen."""
    box = page.locator(FACE).bounding_box()
    assert box is not None
    scale = box["width"] / CAMERA.size[0]
    column, row = CAMERA.pixels([(u, CURVATURE * u**2)])[0]
    return box["x"] + (column + 0.5) * scale, box["y"] + (row + 0.5) * scale


@pytest.mark.thorough
def test_a_point_is_dragged_with_the_mouse_and_with_a_finger(
    open_photograph: Callable[..., Page],
) -> None:
    page = open_photograph(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page.get_by_role("button", name="Find the grid").tap()
    expect(page.get_by_text("The screen is found")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("button", name="Find the line").tap()
    wait_until(page, "line > 20")
    page.locator(FACE).scroll_into_view_if_needed()
    x, y = line_point(page)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 15, steps=3)
    page.mouse.up()
    expect(page.locator(".photograph .untold")).to_contain_text("1 moved")
    scrolled = page.evaluate("scrollY")
    x, y = line_point(page, 0.08)
    finger = page.context.new_cdp_session(page)
    for kind, up in (("Start", 0), ("Move", 8), ("Move", 16), ("Move", 24)):
        touch = {"type": f"touch{kind}", "touchPoints": [{"x": x, "y": y + up}]}
        finger.send("Input.dispatchTouchEvent", touch)
    finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    expect(page.locator(".photograph .untold")).to_contain_text("2 moved")
    page.get_by_role("button", name="Take the held point out").tap()
    expect(page.locator(".photograph .untold")).to_contain_text("2 moved, 1 removed")
    assert page.evaluate("scrollY") == scrolled  # a finger on a point does not scroll the page
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.thorough
def test_circle_of_a_photograph_goes_into_the_table_with_what_the_meters_showed(
    open_photograph: Callable[..., Page],
) -> None:
    page = open_photograph("circle.jpg", BULB)
    page.get_by_role("button", name="Find the grid").click()
    expect(page.get_by_text("The screen is found")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("button", name="Find the line").click()
    wait_until(page, "line > 20")
    page.get_by_role("switch", name="Predicted trace").click()
    voltage = page.get_by_label("V_a while the photograph was taken")
    for text in ("210 V", "220 V"):  # what is typed stays while the prediction is drawn anew
        voltage.fill(text)
        voltage.press("Tab")
        wait_until(page, "predicted > 0")
        expect(voltage).to_have_value(text)
    page.get_by_role("button", name="Use these points").click()
    diameter = page.get_by_label("diameter, row 1", exact=True)
    expect(diameter).to_have_value(re.compile(r"\d"), timeout=PATIENCE)
    read = float(diameter.input_value().partition("(")[0])
    assert read == pytest.approx(2e3 * RADIUS, abs=0.2)
    expect(page.get_by_label("accelerating voltage, row 1", exact=True)).to_have_value("220")


def test_what_is_no_photograph_is_refused_in_one_line(page: Page, tmp_path: Path) -> None:
    path = tmp_path / "words.png"
    path.write_text("no picture")
    page.locator(".photograph input[type=file]").set_input_files(path)
    expect(page.locator(".message")).to_contain_text(
        "not a photograph that can be read", timeout=PATIENCE
    )
