"""What was seen on the real tube is taken in on the page, and taken back."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from visitor import PATIENCE, Server

from glowtrace.bench.checking import change
from glowtrace.bench.ready_made import ready_made
from glowtrace.store import open_store

pytestmark = pytest.mark.browser

NAME = "seen tube"


def test_a_reading_is_taken_in_with_the_bench_and_taken_back(
    open_page: Callable[..., Page], server: Server
) -> None:
    bench = change(ready_made("deflection tube"), {"name": NAME, "plates.gap": "49(1) mm"})
    with open_store(server.data / "glowtrace.sqlite") as store:
        store.benches.save(NAME, bench, overwrite=True)
    address = f"?bench=saved/{NAME}&accelerating_voltage=3000&plate_voltage=1000"
    page = open_page(address)
    page.get_by_text("What did you see?").click(timeout=PATIENCE)
    page.get_by_label("Height there, mm").fill("far")
    page.get_by_label("Line at x, mm").fill("90")
    page.get_by_role("button", name="Take it in").click()
    expect(page.locator(".message")).to_contain_text("Height there", timeout=PATIENCE)
    page.get_by_label("Height there, mm").fill("16")
    page.get_by_role("button", name="Take it in").click()
    fold = page.locator(".seen")
    # Before and after, and that 16 mm fit this description badly, with the likely wrong number.
    expect(fold).to_contain_text("1 reading on this bench", timeout=PATIENCE)
    expect(fold).to_contain_text("x = 90.0 mm: 16.0(5) mm", timeout=PATIENCE)
    expect(fold).to_contain_text("hardly fits", timeout=PATIENCE)
    expect(fold).to_contain_text("→", timeout=PATIENCE)
    with open_store(server.data / "glowtrace.sqlite") as store:
        (seen,) = store.benches.open(NAME).bench.doubts.seen
        assert (seen.x, seen.y, seen.uncertainty) == pytest.approx((0.09, 0.016, 0.5e-3))
        assert seen.settings.plate_voltage == pytest.approx(1000.0)
        assert len(store.benches.versions(NAME)) == 2
    page.get_by_role("button", name="Take the last one back").click()
    expect(page.get_by_role("button", name="Take the last one back")).to_have_count(
        0, timeout=PATIENCE
    )
    with open_store(server.data / "glowtrace.sqlite") as store:
        assert store.benches.open(NAME).bench.doubts.seen == ()


def test_a_bench_that_is_taken_for_exact_learns_nothing(open_page: Callable[..., Page]) -> None:
    page = open_page("?bench=ready-made/deflection tube")
    page.get_by_text("What did you see?").click(timeout=PATIENCE)
    expect(page.locator(".seen")).to_contain_text("taken for exact", timeout=PATIENCE)
    expect(page.get_by_role("button", name="Take it in")).to_have_count(0)
