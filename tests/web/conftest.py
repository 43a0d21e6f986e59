"""A served page and a real browser."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright
from visitor import PATIENCE, Bench, Server

CHROMIUM = "/usr/bin/chromium"
QUIET = ["--no-sandbox", "--disable-background-networking", "--disable-sync"]


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    server = Server(tmp_path_factory.mktemp("data"))
    yield server
    server.kill()


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def browser(playwright: Playwright) -> Iterator[Browser]:
    browser = playwright.chromium.launch(
        executable_path=CHROMIUM, args=[*QUIET, "--disable-gpu", "--disable-software-rasterizer"]
    )
    yield browser
    browser.close()


@pytest.fixture
def browser_with_3d(playwright: Playwright) -> Iterator[Browser]:
    """A browser that draws in three dimensions, slowly, where there is no graphics card."""
    browser = playwright.chromium.launch(
        executable_path=CHROMIUM,
        args=[*QUIET, "--use-angle=swiftshader", "--enable-unsafe-swiftshader"],
    )
    yield browser
    browser.close()


@pytest.fixture
def open_bench(browser: Browser, server: Server) -> Iterator[Callable[..., Bench]]:
    """Open the page; the query goes into the address."""
    contexts = []

    def open_it(query: str = "", *, width: int = 1400, height: int = 900) -> Bench:
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        bench = Bench(context.new_page())
        bench.page.goto(server.address + query)
        bench.wait_for_rest()
        return bench

    yield open_it
    for context in contexts:
        context.close()


@pytest.fixture
def bench(open_bench: Callable[..., Bench]) -> Bench:
    """The page with the bench that stands on the table first."""
    return open_bench()


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport={"width": 1400, "height": 900})
    context.set_default_timeout(PATIENCE)
    yield context
    context.close()


@pytest.fixture
def open_page(browser: Browser, server: Server) -> Iterator[Callable[..., Page]]:
    """Open a page by path and query in a browser that remembers nothing.

    ``how``: what is special about the browser, such as ``viewport`` or ``reduced_motion``;
    ``listen`` is called with the page before it goes anywhere.
    """
    contexts = []

    def open_it(address: str, listen: Callable[[Page], None] | None = None, **how: Any) -> Page:
        context = browser.new_context(**{"viewport": {"width": 1400, "height": 900}, **how})
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE)
        if listen:
            listen(page)
        page.goto(server.address + address)
        return page

    yield open_it
    for context in contexts:
        context.close()


@pytest.fixture
def open_at(context: BrowserContext, server: Server) -> Callable[[str], Bench]:
    """Open a page of its own by path and query."""

    def open_it(address: str) -> Bench:
        bench = Bench(context.new_page())
        bench.page.goto(server.address + address)
        return bench

    return open_it
