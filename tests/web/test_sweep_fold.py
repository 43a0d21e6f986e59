"""How what is seen changes with a knob: a curve beside the picture, and the knob turned on it."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from visitor import PATIENCE

pytestmark = pytest.mark.browser


def test_a_curve_turns_the_knob_and_is_taken_along_as_a_table(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("?bench=ready-made/deflection tube&plate_voltage=900")
    page.get_by_text("How it changes").click(timeout=PATIENCE)
    told = page.locator(".sweep-told")
    expect(told).to_contain_text("plate voltage 900 V: height 8.3", timeout=PATIENCE)
    page.get_by_role("application", name=re.compile("height")).focus()
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    knob = page.get_by_role("slider", name="Plate voltage", exact=True)
    expect(knob).to_have_attribute(
        "aria-valuetext", re.compile("1.14 kV|1.140 kV"), timeout=PATIENCE
    )
    type_too_much(page)
    with page.expect_download() as taken:
        page.get_by_role("button", name="Table (CSV)").click()
    rows = list(csv.DictReader(taken.value.path().read_text().splitlines()))
    assert len(rows) == 41
    assert float(rows[0]["height_m"]) == 0.0


def type_too_much(page: Page) -> None:
    """Type an end beyond the rating; once more where a curve that came meanwhile put its own."""
    end, complaint = page.get_by_label("to", exact=True), page.locator(".sweep .field-complaint")
    for patience in (PATIENCE // 6, PATIENCE // 6, PATIENCE):
        expect(page.locator(".sweep-working")).to_be_hidden(timeout=PATIENCE)
        end.fill("9 kV")
        end.press("Enter")
        try:
            expect(complaint).to_contain_text("4.8 kV", timeout=patience)
        except AssertionError:
            if patience == PATIENCE:
                raise
        else:
            return
