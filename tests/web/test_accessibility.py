"""Every page, looked over by axe-core for people who see little or use no mouse.

The rules are axe-core's, most of them after WCAG 2; serious and critical findings are not allowed.
The walk through the pages on a phone asks the same in every check.
"""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urljoin

import pytest
from playwright.sync_api import Page, expect
from test_smoke import SETTINGS
from visitor import PATIENCE, grave

from glowtrace.web.steps import STEPS

pytestmark = pytest.mark.browser


@pytest.mark.thorough
@pytest.mark.parametrize("path", STEPS)
def test_axe_finds_nothing_grave(open_page: Callable[..., Page], path: str) -> None:
    page = open_page(f"{path.removeprefix('/')}?{SETTINGS}")
    expect(page.get_by_role("heading", level=1, name=STEPS[path])).to_be_attached(timeout=PATIENCE)
    page.wait_for_load_state("networkidle")
    assert grave(page) == []


def test_axe_finds_nothing_grave_in_the_audiences_window(open_page: Callable[..., Page]) -> None:
    desk = open_page(f"?{SETTINGS}")
    strip = desk.locator("details.audience-strip")
    strip.evaluate("strip => { strip.open = true; }")
    window = desk.context.new_page()
    window.goto(urljoin(desk.url, "/audience/"))
    expect(window.locator("dd").first).to_be_visible(timeout=PATIENCE)
    for look in ("light", "dark"):  # the server keeps the last one
        strip.get_by_label(look).check(force=True)
        expect(window.locator("html.is-light")).to_have_count(int(look == "light"))
        assert grave(window) == []
