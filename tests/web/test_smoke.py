"""A walk through every page in a real browser: it comes, breaks nothing, asks nobody else,
and axe-core finds nothing grave.

What each page is for is tested in the files of its name; axe-core's rules are most of them after
WCAG 2, the others are the project's.
"""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlparse

import pytest
from playwright.sync_api import Page, expect
from visitor import PATIENCE, grave

from glowtrace.web.steps import STEPS

pytestmark = pytest.mark.browser

SETTINGS = (
    "bench=ready-made/deflection+tube&accelerating_voltage=3000&plate_voltage=900&coil_current=0.1"
)
PHONE = {"width": 360, "height": 740}


@pytest.mark.parametrize("path", STEPS)
def test_the_page_comes_on_a_phone_and_breaks_nothing(
    open_page: Callable[..., Page], path: str
) -> None:
    trouble: list[str] = []
    asked_for: list[str] = []

    def listen(page: Page) -> None:
        page.on("pageerror", lambda error: trouble.append(str(error)))
        page.on("request", lambda request: asked_for.append(request.url))

    page = open_page(f"{path.removeprefix('/')}?{SETTINGS}", listen=listen, viewport=PHONE)
    heading = page.get_by_role("heading", level=1, name=STEPS[path])
    expect(heading).to_be_attached(timeout=PATIENCE)
    page.wait_for_load_state("networkidle")
    assert trouble == []
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert grave(page) == []
    urls = map(urlparse, asked_for)
    assert {url.hostname for url in urls if url.scheme not in ("data", "blob")} == {"127.0.0.1"}
