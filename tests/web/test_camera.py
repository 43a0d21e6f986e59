"""The page Camera with the browser's own simulated camera, which plays a made-up picture."""

from __future__ import annotations

import re
from http.client import HTTPConnection
from urllib.parse import urlparse

import pytest
from playwright.sync_api import BrowserContext, Playwright, expect
from visitor import PATIENCE, Server, go

from conftest import CHROMIUM, QUIET
from glowtrace.bench.prepared import prepare
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.web.measure.invented_photograph import invented_photograph

pytestmark = pytest.mark.browser

CROSSED = (
    "bench=ready-made/deflection tube&accelerating_voltage=1600&plate_voltage=450"
    "&coil_current=0.062&coil_reversed=true"
)
SETTINGS = Settings(
    accelerating_voltage=1600.0, plate_voltage=450.0, coil_current=0.062, coil_reversed=True
)
# The names that a browser may give: W3C, Media Capture and Streams, getUserMedia().
TROUBLES = {
    "NotAllowedError": "The camera was refused. Allow it",
    "NotReadableError": "in use by another program",
    "OverconstrainedError": "This camera is gone",
    "NotFoundError": "No camera was found",
}
REFUSE = """(name) => {
  navigator.mediaDevices.getUserMedia = async () => { throw new DOMException("", name); };
}"""


def test_line_of_a_simulated_camera_agrees_and_is_handed_on(
    playwright: Playwright, server: Server, tmp_path
) -> None:
    prepared = prepare(ready_made("deflection tube"))
    film = tmp_path / "camera.mjpeg"
    film.write_bytes(10 * invented_photograph(prepared, SETTINGS).content)
    browser = playwright.chromium.launch(
        executable_path=CHROMIUM,
        args=[*QUIET, "--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream",
              f"--use-file-for-fake-video-capture={film}"],
    )  # fmt: skip
    page = browser.new_page()
    page.set_default_timeout(PATIENCE)
    page.goto(f"{server.address}camera?{CROSSED}")
    page.get_by_role("button", name="Start the camera").click()
    says = page.get_by_role("status")
    expect(says.filter(has_text="Find the grid, or click")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("button", name="Find the grid").click()
    # The picture was made with the very bench and settings: they must agree.
    expect(page.get_by_text("They agree within the doubt.")).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_text(re.compile("pieces of the grid fit, to 0.0"))).to_be_visible()
    page.get_by_role("switch", name="Show it to the audience").click()
    window = browser.new_page()
    window.goto(f"{server.address}audience/")
    seen = window.get_by_role("img", name="The camera’s picture, with what is computed and read")
    expect(seen).to_be_visible(timeout=PATIENCE)
    page.get_by_role("switch", name="Show it to the audience").click()
    expect(seen).to_be_hidden(timeout=PATIENCE)
    window.close()
    with page.context.expect_page() as opened:
        page.get_by_role("button", name="Why not as computed?").click()
    expect(opened.value).to_have_url(re.compile("sketch.as.set=.*photographed=yes"))
    with page.context.expect_page() as opened:
        page.get_by_role("button", name="Read it on Measure").click()
    measure = opened.value
    expect(measure.get_by_role("button", name="Find the line")).to_be_visible(timeout=PATIENCE)
    browser.close()


def test_no_camera_is_told_and_a_foreign_page_reads_none(
    context: BrowserContext, server: Server
) -> None:
    page = context.new_page()
    page.goto(f"{server.address}camera?{CROSSED}")
    page.get_by_role("button", name="Start the camera").click()
    expect(
        page.get_by_text(re.compile("No camera was found|The camera was refused"))
    ).to_be_visible()
    for error, says in TROUBLES.items():
        page.evaluate(REFUSE, error)
        page.get_by_role("button", name="Start the camera").click()
        expect(page.get_by_role("status").filter(has_text=says)).to_be_visible()
    page.goto(f"{server.address}?bench=ready-made/fine-beam bulb")
    go(page, "Camera")
    expect(page.get_by_role("button", name="Read it on Measure")).to_be_visible()
    page.goto(f"{server.address}camera?bench=ready-made/axial coil tube")
    # A spot is compared and handed to Faults; Measure has no reading of one.
    expect(page.get_by_role("button", name="Why not as computed?")).to_be_visible()
    expect(page.get_by_role("button", name="Read it on Measure")).to_be_hidden()
    # RFC 6455: a handshake; the guard refuses one from a page of another origin.
    connection = HTTPConnection(urlparse(server.address).netloc, timeout=10)
    connection.request(
        "GET", "/glowtrace-camera?bench=ready-made/deflection%20tube",
        headers={"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
                 "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==", "Origin": "http://evil.example"},
    )  # fmt: skip
    assert connection.getresponse().status == 403
